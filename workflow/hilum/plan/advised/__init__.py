"""What would tell more: `advice` on places, dishes and inspections, their `allocation` to temperatures, and weighings (`reweighed`, `weighing`)."""
