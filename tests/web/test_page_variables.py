"""A page's dataclass names exactly the variables of its template, and no template carries script or style."""

import inspect
import re
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest
from jinja2 import meta, nodes

import app.web.app  # noqa: F401  registers every page
from app.config import ROOT
from app.web import pages
from app.web.pages import Page, environment

TEMPLATES = ROOT / "templates"
CHROME = {"theme", "unit", "keys", "section", "here", "q", "trouble"}


def all_pages(kind: type[Page] = Page) -> Iterator[type[Page]]:
    for page in kind.__subclasses__():
        yield page
        yield from all_pages(page)


def tree_of(name: str) -> nodes.Template:
    loader = environment.loader
    assert loader is not None
    return environment.parse(loader.get_source(environment, name)[0])


def variables_of(name: str) -> set[str]:
    """What a template needs of its page, with what it extends and includes."""
    tree = tree_of(name)
    needed = set(meta.find_undeclared_variables(tree))
    parts: tuple[Any, ...] = (*tree.find_all(nodes.Extends), *tree.find_all(nodes.Include))
    for drawn_in in parts:
        assert isinstance(drawn_in.template, nodes.Const), f"{name} names a template by a variable"
        needed |= variables_of(drawn_in.template.value)
    return needed - names_made_in(tree) - set(environment.globals)


def names_made_in(tree: nodes.Template) -> set[str]:
    """What a template imports or sets itself, which Jinja counts as undeclared inside of blocks."""
    made: set[str] = set()
    for imported in tree.find_all(nodes.FromImport):
        made |= {name if isinstance(name, str) else name[1] for name in imported.names}
    for assigned in tree.find_all(nodes.Assign):
        made |= {name.name for name in assigned.target.find_all(nodes.Name)}
        made |= {assigned.target.name} if isinstance(assigned.target, nodes.Name) else set()
    return made


def test_there_are_pages_to_hold_to_their_templates() -> None:
    assert len(list(all_pages())) > 15


@pytest.mark.parametrize("page", list(all_pages()), ids=lambda page: page.__name__)
def test_a_page_names_exactly_the_variables_of_its_template(page: type[Page]) -> None:
    needed = variables_of(page.template)
    given = {field.name for field in fields(page)}
    assert needed - CHROME == given
    assert given.isdisjoint(CHROME)


def test_the_frame_is_given_exactly_the_variables_it_uses() -> None:
    source = inspect.getsource(pages.render)
    given = set(re.findall(r'^        "(\w+)":', source, re.MULTILINE))
    assert given == CHROME
    used = set().union(*(variables_of(page.template) for page in all_pages()))
    assert used >= CHROME


def test_every_template_belongs_to_a_page() -> None:
    named = {page.template for page in all_pages()}
    for name in environment.list_templates():
        tree = tree_of(name)
        kinds: tuple[Any, ...] = (nodes.Extends, nodes.Include, nodes.FromImport, nodes.Import)
        for kind in kinds:
            named |= {
                other.template.value
                for other in tree.find_all(kind)
                if isinstance(other.template, nodes.Const)
            }
    assert set(environment.list_templates()) - named == set()


@pytest.mark.parametrize("template", sorted(TEMPLATES.rglob("*.html")), ids=lambda path: path.name)
def test_no_template_carries_script_or_style_of_its_own(template: Path) -> None:
    """The content security policy would block either."""
    text = re.sub(r"\{#.*?#\}", "", template.read_text(encoding="utf-8"), flags=re.DOTALL)
    assert re.findall(r"<script(?![^>]*\bsrc=)", text, re.IGNORECASE) == []
    assert re.findall(r"<style\b", text, re.IGNORECASE) == []
    assert re.findall(r"\sstyle\s*=", text, re.IGNORECASE) == []
    assert re.findall(r"\son[a-z]+\s*=", text, re.IGNORECASE) == []
    assert re.findall(r"\shx-on|javascript:", text, re.IGNORECASE) == []
