"""The site generator's plugin: only glue. It checks the protocol set, hands over its pages, keeps the site offline."""

from __future__ import annotations

import datetime
import os
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from mkdocs.config import config_options as option
from mkdocs.config.base import Config
from mkdocs.exceptions import PluginError
from mkdocs.plugins import BasePlugin, CombinedEvent, event_priority, get_plugin_logger
from mkdocs.structure.files import File, Files, InclusionLevel
from mkdocs.structure.toc import get_toc

from .changes.approvals import Approved, approvals_of
from .changes.approved import HistoryError, Since, since_approved
from .checks import Report, Severity, check_set
from .keeping.shelf import Shelf, usual_folder
from .keeping.teams import teams_kept
from .language import language_of, read_set
from .language.schemas import forget, schema_folder
from .pages import Page, Site, begin_site
from .pages.addresses import ASSETS
from .pages.lost import lost_pages, with_lost
from .pages.matter import contents_entries, front_matter, in_menu, source
from .pages.offline import SHIM, Settings, leaks, loads_from_elsewhere
from .pages.searching import for_search
from .pages.speech import speech
from .pages.templating import keep_compiled
from .publishing import Documents
from .publishing.day import day_of
from .publishing.log_lines import log_lines, why_stopped
from .publishing.memory import few_collections

if TYPE_CHECKING:
    from mkdocs.config.defaults import MkDocsConfig
    from mkdocs.livereload import LiveReloadServer
    from mkdocs.structure.pages import Page as SitePage

    from .planning.teams import Teams

log = get_plugin_logger(__name__)
_LOADED = ("stepfield", "team", "role")  # style sheets and scripts of every page of the theme


class StepfieldConfig(Config):  # type: ignore[no-untyped-call]
    """The plugin's settings in mkdocs.yml."""

    protocols = option.Type(str, default="protocols")
    """The folder of the protocol set, seen from the settings file."""
    stop_on_errors = option.Choice(("strict", "always", "never"), default="strict")
    """When findings of severity error end the build; otherwise they stand in a banner on the pages concerned."""
    today = option.Optional(option.Type((str, datetime.date)))
    """The day the set is judged on; without it, the day of SOURCE_DATE_EPOCH if that is set, or that of the build."""
    changed_since = option.Type(str, default="")
    """The last approved text: a tag of the history, "newest-tag", or a folder; without it, the folder "approved"."""
    teams = option.Type(bool, default=False)
    """Whether a page tells how few people can do each protocol; large sets take a while the first time."""
    approval_history = option.Type(bool, default=False)
    """Whether the page of dates lists the versions that the git history of the set shows as approved."""


class StepfieldPlugin(BasePlugin[StepfieldConfig]):  # type: ignore[no-untyped-call]
    """Makes the pages of a protocol set part of a site."""

    def __init__(self) -> None:
        self.site = Site((), ())
        self.pages: dict[str, Page] = {}
        self.menu: list[str] = []
        self.documents: Documents | None = None
        self.serving, self.today = False, ""
        self.good: tuple[Page, ...] = ()

    def on_startup(self, *, command: Literal["build", "gh-deploy", "serve"], dirty: bool) -> None:  # noqa: ARG002
        """Notes whether the site is shown while it is written; one plugin is then kept for all its builds."""
        self.serving, self.good = command == "serve", ()

    @event_priority(100)  # before the offline plugin, which fetches its script from the network if it finds none
    def on_config(self, config: MkDocsConfig) -> MkDocsConfig:
        """Keeps the site offline. Stops the build with the name of every setting that would make a request leave."""
        found = list(leaks(_settings(config)))
        if found:
            lines = "\n".join(f"  {name}: {advice}" for name, advice in found)
            raise PluginError(f"The site could not be used without a network. Change in the settings:\n{lines}")
        config.theme["font"] = False
        _speak(config, _folder(config, self.config.protocols))
        config.extra["polyfills"] = [f"{ASSETS}/{SHIM}", *config.extra.get("polyfills", ())]
        config.extra_css[:0] = [f"{ASSETS}/{name}.css" for name in _LOADED]
        config.extra_javascript[:0] = [f"{ASSETS}/{name}.js" for name in _LOADED]
        config.use_directory_urls = False
        return config

    def on_pre_build(self, *, config: MkDocsConfig) -> None:
        """Reads, checks and draws the set before anything is written: a build that stops leaves the last site alone."""
        folder = _folder(config, self.config.protocols)
        if not folder.is_dir():
            named, beside = self.config.protocols, config.config_file_path
            raise PluginError(f"stepfield.protocols: there is no folder '{named}' beside {beside}")
        if self.serving:
            forget()
        with few_collections():
            report = check_set(read_set(folder, self.config.protocols), _today(self.config.today))
            self.tell(report, strict=config.strict)
            since, teams, approvals = self.since(report, config), self.teams(report), self.approvals(config)
            begun = begin_site(report, config.site_url or "", since, teams, approvals)
        self.documents, drawn = Documents(begun, Path(config.site_dir)), begun.site
        lost = lost_pages(drawn, report, self.good) if self.serving else ()
        self.good = (*drawn.pages, *lost)
        self.site = with_lost(drawn, report, lost)
        self.today = report.facts.today.isoformat()
        self.pages = {source(page): page for page in self.site.pages}
        self.menu = [source(page) for page in in_menu(self.site)]

    def teams(self, report: Report) -> Mapping[str, Teams | str] | None:
        """Who can do each protocol, if the settings ask for it; what was judged before is not judged again."""
        if not self.config.teams:
            return None
        return teams_kept(report.facts.protocol_set, self.config.protocols, Shelf(usual_folder()))

    def approvals(self, config: MkDocsConfig) -> tuple[Approved, ...] | None:
        """The approvals in the history, if the settings ask for them; a warning where there is no history."""
        try:
            return approvals_of(_folder(config, self.config.protocols)) if self.config.approval_history else None
        except HistoryError as error:
            log.warning(f"stepfield.approval_history: {error}")
            return None

    def since(self, report: Report, config: MkDocsConfig) -> Since | None:
        """What changed since the last approved text; a warning where what is named can't be had."""
        (home, folder), facts = (_folder(config, name) for name in (".", self.config.protocols)), report.facts
        try:
            return since_approved(
                self.config.changed_since, home, folder, self.config.protocols, facts.protocol_set, facts.today
            )
        except HistoryError as error:
            log.warning(f"stepfield.changed_since: {error}")
            return None

    def tell(self, report: Report, *, strict: bool) -> None:
        """Logs the findings, so that strict builds count the errors; stops where the settings say so.

        While the site is shown as it is written, no finding stops it: the pages tell of each.
        """
        stop = "never" if self.serving else self.config.stop_on_errors
        lines = log_lines(report)
        for line in (*lines[Severity.WARNING], *lines[Severity.NOTE]):
            log.info(line)
        errors = lines[Severity.ERROR]
        if errors and (stop == "always" or (stop == "strict" and strict)):
            raise PluginError(why_stopped(errors))
        for line in errors:
            (log.info if stop == "never" else log.warning)(line)

    def on_files(self, files: Files, *, config: MkDocsConfig) -> Files:
        """Adds the pages and what they load. Stops where two pages would have one address."""
        taken = {file.dest_uri.casefold(): file.src_uri for file in files}
        for page in self.site.pages:
            inclusion = InclusionLevel.INCLUDED if source(page) in self.menu else InclusionLevel.NOT_IN_NAV
            file = File.generated(config, source(page), content=front_matter(page), inclusion=inclusion)
            file.edit_uri = _edit_uri(page, config, self.config.protocols)
            _add(files, file, taken)
        for asset in self.site.assets:
            made = File.generated(config, asset.address, content=asset.content, inclusion=InclusionLevel.INCLUDED)
            _add(files, made, taken)
        if self.documents is not None:
            self.documents.begin()
            for address in self.documents.addresses:
                _add(files, _Coming.generated(config, address, content=b"", inclusion=InclusionLevel.INCLUDED), taken)
        if config.nav is None:
            others = [file.src_uri for file in files.documentation_pages() if file.src_uri not in self.pages]
            config.nav = self.menu + others
        return files

    def on_env(self, env: Any, *, config: MkDocsConfig, files: Files) -> None:  # noqa: ARG002
        """Keeps the compiled templates of a theme as ours are kept; one that is changed here is compiled each time."""
        if not config.theme.custom_dir:
            keep_compiled(env)

    def on_page_content(self, content: str, *, page: SitePage, config: MkDocsConfig, files: Files) -> str:  # noqa: ARG002
        """Puts in the finished page: its text never passes through Markdown."""
        drawn = self.pages.get(page.file.src_uri)
        if drawn is None:
            return content
        page.toc = get_toc(contents_entries(drawn))  # type: ignore[arg-type]
        return drawn.html

    @event_priority(100)  # before the search, which reads a page tag by tag
    def _shorten(self, context: Any, *, page: SitePage, config: MkDocsConfig, nav: Any) -> Any:  # noqa: ARG002
        drawn = self.pages.get(page.file.src_uri)
        if drawn is not None:
            page.content = for_search(drawn.html) if drawn.search_weight else ""
        return context

    @event_priority(-100)  # after the search, before the page is written
    def _restore(self, context: Any, *, page: SitePage, config: MkDocsConfig, nav: Any) -> Any:  # noqa: ARG002
        drawn = self.pages.get(page.file.src_uri)
        if drawn is not None:
            page.content = drawn.html
        return context

    on_page_context = CombinedEvent(_shorten, _restore)
    """Gives the search only what it would keep of a page."""

    def on_post_page(self, output: str, *, page: SitePage, config: MkDocsConfig) -> str:  # noqa: ARG002
        """Warns of whatever else a finished page would load from the network; our own part of it loads nothing."""
        drawn = self.pages.get(page.file.src_uri)
        around = output if drawn is None else output.replace(drawn.html, "", 1)
        for tag in loads_from_elsewhere(around):
            log.warning(f"{page.file.src_uri} would load something from the network: {tag}")
        return output

    @event_priority(100)  # before plugins that want to see all files
    def _wait(self, *, config: MkDocsConfig) -> None:  # noqa: ARG002
        if self.documents is not None:
            self.documents.wait()

    @event_priority(-200)  # after the offline plugin, which writes the search index once more
    def _publish(self, *, config: MkDocsConfig) -> None:  # noqa: ARG002
        if self.documents is not None:
            for address in self.documents.publish(self.site, self.config.protocols, self.today):
                log.warning(f"{address} was drawn, but the site generator did not write it")

    on_post_build = CombinedEvent(_wait, _publish)
    """Waits for the documents, lists what the site holds, then tells the wall screens of the new build."""

    def on_build_error(self, *, error: Exception) -> None:  # noqa: ARG002
        """Nobody waits for the documents of a build that has failed."""
        if self.documents is not None:
            self.documents.stop()

    def on_serve(self, server: LiveReloadServer, *, config: MkDocsConfig, builder: Any) -> None:  # noqa: ARG002
        """Follows edits of the protocols and of the schemas."""
        for folder in filter(Path.is_dir, (_folder(config, self.config.protocols), schema_folder())):
            server.watch(str(folder))


class _Coming(File):
    """A document that is written beside the pages: others can link to it, the site generator leaves it alone."""

    def copy_file(self, dirty: bool = False) -> None:
        """Copies nothing."""


def _settings(config: MkDocsConfig) -> Settings:
    return Settings(
        theme=config.theme.name,
        features=tuple(config.theme.get("features") or ()),
        font=config.theme.get("font"),
        logo=config.theme.get("logo"),
        favicon=config.theme.get("favicon"),
        plugins=frozenset(config.plugins),
        extra=config.extra,
        scripts=tuple(str(script) for script in config.extra_javascript),
        styles=tuple(config.extra_css),
        repo_url=config.repo_url,
        extensions={name: config.mdx_configs.get(name) for name in config.markdown_extensions},
    )


def _speak(config: MkDocsConfig, folder: Path) -> None:
    """Lets the theme say its own words in the language of ours, unless the settings name one for it."""
    themes = [given.get("theme") for given in config.user_configs]
    if any(isinstance(theme, Mapping) and "language" in theme for theme in themes):
        return
    code = speech(language_of(folder)).spoken.partition("-")[0]
    if any(Path(place, "partials", "languages", f"{code}.html").is_file() for place in config.theme.dirs):
        config.theme["language"] = code


def _folder(config: MkDocsConfig, name: str) -> Path:
    return Path(config.config_file_path or "mkdocs.yml").resolve().parent / name


def _today(given: object) -> datetime.date:
    try:
        return day_of(given, os.environ.get("SOURCE_DATE_EPOCH"))
    except ValueError as error:
        raise PluginError(f"stepfield.today: write a day such as 2026-11-02 ({error})") from None


def _edit_uri(page: Page, config: MkDocsConfig, shown_as: str) -> str | None:
    if page.written_in is None:
        return None
    path = _folder(config, shown_as) / Path(page.written_in).relative_to(Path(shown_as))
    return Path(os.path.relpath(path, config.docs_dir)).as_posix()


def _add(files: Files, file: File, taken: dict[str, str]) -> None:
    address = file.dest_uri.casefold()
    other = taken.get(address)
    if other is not None:
        raise PluginError(
            f"'{other}' and the generated page '{file.src_uri}' would both be {file.dest_uri}; rename the first"
        )
    taken[address] = file.src_uri
    files.append(file)
