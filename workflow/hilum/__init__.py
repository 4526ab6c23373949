"""Tell coat, seed, other dormancy and conditions apart from raw germination tables."""
