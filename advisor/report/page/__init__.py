"""The report as a page: pictures and text for a browser and for paper."""
