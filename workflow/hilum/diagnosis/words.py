"""The causes as every page and chart names them."""

CAUSES = {
    "impermeable_coat": "closed coat",
    "nonviable": "dead seed",
    "harmed": "harmed by the treatment",
    "other_dormancy": "another dormancy",
    "conditions": "conditions",
    "other_dormancy_or_conditions": "another dormancy or conditions",
    "unresolved": "not told apart",
}
