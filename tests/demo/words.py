"""The words of the demo: lots, treatments and what each experiment asks. All of it is invented."""

INVENTED = (
    "Invented for the demonstration of Hilum: plant, places, people and figures are made up, "
    "and nothing here is a fact about any plant."
)

DRIED = "103 °C, 17 h; invented"
FLORA = "Flora of the Ember Strand (invented)"

LOTS = (
    (
        "lot",
        "taxon",
        "origin",
        "collected_on",
        "received_on",
        "storage",
        "expected_germination_pct",
        "moisture_pct",
        "notes",
    ),
    (
        (
            "drift-24",
            "Litorivolva ficta (invented)",
            "Ember Strand (invented), wrack line",
            "2024-10-12",
            "2024-10-19",
            "paper bag, dry, 18 °C",
            85,
            8.4,
            "drift seed of the autumn storms; invented",
        ),
        (
            "drift-19",
            "Litorivolva ficta (invented)",
            "Ember Strand (invented), wrack line",
            "2019-10-03",
            "2019-10-20",
            "open shelf, unheated shed",
            85,
            11.2,
            "found again in the shed in 2024; invented",
        ),
    ),
)

TREATMENTS = (
    (
        "treatment",
        "step",
        "method",
        "position",
        "agent",
        "concentration",
        "concentration_unit",
        "duration",
        "duration_unit",
        "temperature_c",
        "notes",
    ),
    (
        ("intact", 1, "none", "", "", "", "", "", "", "", "untreated"),
        ("chipped", 1, "chipping", "opposite the hilum", "", "", "", "", "", "", "nail clipper"),
        *(
            row
            for minutes in (30, 60, 120, 240, 360, 480, 600)
            for row in (
                (
                    f"acid-{minutes}",
                    1,
                    "acid",
                    "",
                    "sulfuric acid",
                    95,
                    "%",
                    minutes,
                    "min",
                    22,
                    "stirred",
                ),
                (
                    f"acid-{minutes}",
                    2,
                    "other",
                    "",
                    "running water",
                    "",
                    "",
                    30,
                    "min",
                    18,
                    "rinsed",
                ),
            )
        ),
        ("hot-water", 1, "hot_water", "", "water", "", "", 15, "min", 90, "left to cool"),
        ("sandpaper", 1, "sandpaper", "whole coat", "grit 240", "", "", 1, "min", "", "by hand"),
    ),
)

EXPERIMENTS = {
    "acid": """\
title: How long in acid? 0 to 480 minutes
question: Which duration in acid opens the coats of drift seed, and from when on does it harm the seeds?
analyses: [scarification]
germination_criterion: radicle
person: the nursery's trial bench (invented)
dates: 7 to 28 July 2025
source: >-
  {invented}
licence: CC0-1.0
""",
    "float-test": """\
title: Do floating seeds deserve to be thrown away?
question: Does a chipped seed that floats come to nothing, and how long does it take to sink?
analyses: [buoyancy]
germination_criterion: radicle
person: the nursery's trial bench (invented)
dates: 4 to 25 August 2025
source: >-
  {invented}
licence: CC0-1.0
""",
    "seed-traits": """\
title: Are these the seeds on the label?
question: Do length, width and shape of the seeds fit the name on the bag, or that of a look-alike?
analyses: [trueness_to_name]
person: the nursery's trial bench (invented)
dates: 20 to 24 January 2025
source: >-
  {invented}
licence: CC0-1.0
""",
    "seedlings": """\
title: Seedlings stop growing. Is that normal?
question: Do seedlings from chipped drift seed pause, for how long, and which of them should one look after?
analyses: [seedlings]
germination_criterion: radicle
person: the nursery's trial bench (invented)
dates: 18 March to 20 May 2025
source: >-
  {invented}
licence: CC0-1.0
""",
    "storage": """\
title: How long does treated seed keep?
question: How long can drift seed be stored once acid has opened its coat, and does hard seed keep longer?
analyses: [storage]
person: the nursery's trial bench (invented)
dates: 4 November 2024 to 4 November 2026
source: >-
  {invented}
licence: CC0-1.0
""",
    "uptake": """\
title: Does water get in?
question: Which treatments open the coat of drift seed, and which leave it closed?
analyses: [imbibition]
person: the nursery's trial bench (invented)
dates: 3 to 5 February 2025
balance_readability_mg: 1
source: >-
  {invented}
licence: CC0-1.0
""",
    "germination": """\
title: How many germinate at 25 °C, and how fast?
question: Does an opened coat let the seeds germinate, and does each way of opening it do as well?
analyses: [time_course]
germination_criterion: radicle
person: the nursery's trial bench (invented)
dates: 10 February to 3 March 2025
source: >-
  {invented}
licence: CC0-1.0
known_faults:
  - table: counts
    row: {{dish: {dish}, elapsed_d: '{day}', germinated: '{typed}'}}
    use: {{germinated: '{meant}'}}
    why: >-
      The bench sheet says {meant}; the {typed} was typed into the table by a slip, and the dish held
      no more than 25 seeds.
""",
    "temperatures": """\
title: From which temperature on? A series with 12.5 and 15 °C
question: What is the base temperature, and how much thermal time do chipped seeds need?
analyses: [temperature]
germination_criterion: radicle
person: the nursery's trial bench (invented)
dates: 10 March to 7 April 2025
source: >-
  {invented}
licence: CC0-1.0
""",
    "temperatures-coarse": """\
title: From which temperature on? A series without 12.5 and 15 °C
question: Can a series at 10, 20, 25 and 30 °C tell the base temperature?
analyses: [temperature]
germination_criterion: radicle
person: the nursery's trial bench (invented)
dates: 5 May to 2 June 2025
source: >-
  {invented}
licence: CC0-1.0
""",
}
