"""Where dishes stand (`layout`), which seed gets what (`weighed`), and the tables and sheets to fill in (`sheets`)."""
