"""The site as plain data and ready pages: what each role reads, diagrams, problems. Knows no generator."""

from .page import Asset, Heading, Page, Site
from .site import Begun, begin_site, build_site

__all__ = ["Asset", "Begun", "Heading", "Page", "Site", "begin_site", "build_site"]
