"""Figures and pages from estimates and checked tables: text in, text out; no file is opened here."""
