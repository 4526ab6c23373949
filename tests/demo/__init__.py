"""The demo study: what is true of its invented plant, and how its raw tables are drawn from that."""
