"""What would tell more: `advice` on places, dishes and inspections, their `allocation` to temperatures, further `baths`.

For weighed seeds `weighing` puts together what is expected, and `reweighed` when to weigh once more.
"""
