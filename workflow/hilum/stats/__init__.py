"""Pure mathematics: arrays in, frozen dataclass out; no paths, frames, prints or hidden generators."""
