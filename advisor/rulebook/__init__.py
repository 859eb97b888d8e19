"""The rule engine: rule files, their conditions, and how they judge the facts of a site.

A rule reads facts and judges; it computes nothing. Rules themselves are data, one file each, under `rules/`.
"""
