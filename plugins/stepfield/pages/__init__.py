"""The site as plain data and ready pages: what each role reads, diagrams, problems. Knows no generator."""

from .page import Asset, Heading, Page, Site
from .site import build_site

__all__ = ["Asset", "Heading", "Page", "Site", "build_site"]
