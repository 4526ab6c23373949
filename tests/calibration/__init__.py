"""`make calibrate`: how often the printed intervals hold the truth, on studies simulated by other code."""
