"""Profiles: which clause counts for which requirement, for one operator.

A profile is one TOML text, or several that together make one: the built-in profile
is every file of `data/profiles/default/`, so that each room keeps its own part. An
operator's text may begin with `extends = "default"` and then changes only what it
names; it may bring clauses of its own under `[[clause]]`.
"""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cache
from types import MappingProxyType
from typing import Any

from eavelight.errors import EvidenceError
from eavelight.light.path import PartDefaults
from eavelight.standards.clauses import (
    Clause,
    by_id,
    clauses_of,
    data_files,
    load_clauses,
    nearest,
    read_toml,
    refuse_unknown,
)

PURPOSES = ("turn-up", "repair", "audit")
_CHOICES = ("limits", "uncertainty", "uncertainty_share", "plant")
_LISTS = {"items", "photos", "items_with_feed", "photos_with_feed"}
_HEADS = {"id", "title", "edition"}
_TOP = {
    *_HEADS, *_CHOICES, "extends", "required", "required_with", "advisory", "record",
    "document", "note", "clause",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """What one operator asks for, as clauses.

    >>> profile = load_profile()
    >>> profile.number("splice.estimate")
    0.1
    >>> profile.default_u("loop_resistance", value=2.0)
    0.03
    """

    id: str
    title: str
    edition: str
    limits: Mapping[str, Clause]
    uncertainty: Mapping[str, Clause]
    uncertainty_share: Mapping[str, Clause]
    plant: Mapping[str, Clause]
    required: Mapping[str, tuple[str, ...]]
    required_with: Mapping[str, str]
    advisory: tuple[str, ...]
    advisory_except: tuple[str, ...]
    record: Mapping[str, tuple[str, ...]]
    sha256: str

    def limit(self, name: str) -> Clause:
        """The clause of a requirement, such as `splice.estimate`."""
        return _chosen(self.limits, name, "limit")

    def number(self, name: str) -> float:
        """The value of the clause of a requirement."""
        return self.limit(name).value

    def part(self, name: str) -> Clause:
        """The clause of a plant default, such as `splice.mean`."""
        return _chosen(self.plant, name, "plant default")

    def part_number(self, name: str) -> float:
        """The value of a plant default."""
        return self.part(name).value

    def part_defaults(self) -> PartDefaults:
        """The plant defaults as the light path takes them."""
        names = {item.name.replace("_", ".", 1) for item in fields(PartDefaults)}
        if absent := sorted(names - set(self.plant)):
            raise ValueError(
                f"plant: the profile {self.id!r} lacks {', '.join(absent)}"
            )
        return PartDefaults(
            **{name.replace(".", "_"): item.value for name, item in self.plant.items()}
        )

    @property
    def guard_factor(self) -> float:
        """Standard uncertainties of guard band on each side of a limit."""
        return self.number("guard.factor")

    def default_u(self, kind: str, *, value: float = 0.0) -> float:
        """Standard uncertainty of a reading of this kind that states none.

        `value` is the reading: some tools promise a share of it besides a fixed part.
        The unit is that of the reading.
        """
        fixed = _chosen(self.uncertainty, kind, "tool class").value
        share = self.uncertainty_share.get(kind)
        return fixed + (abs(value) * share.value / 100.0 if share else 0.0)

    def knows_u(self, kind: str) -> bool:
        """Whether readings of this kind have a tool class."""
        return kind in self.uncertainty

    def is_required(
        self, requirement: str, *, purpose: str, has: Sequence[str]
    ) -> bool:
        """Whether a visit must show this.

        `has` names the parts of the plan that exist, such as `feed`, `feed.battery`.
        """
        if purpose not in self.required:
            raise ValueError(
                f"purpose: no list for {purpose!r}; {nearest(purpose, self.required)}"
            )
        if requirement not in self.required[purpose]:
            return False
        needs = self.required_with.get(requirement)
        return needs is None or needs in has

    def is_advisory(self, requirement: str) -> bool:
        """Whether a failure of this leaves the visit ready."""
        if requirement in self.advisory_except:
            return False
        return any(
            requirement == word
            or (word.endswith("*") and requirement.startswith(word[:-1]))
            for word in self.advisory
        )

    def clauses(self) -> tuple[Clause, ...]:
        """Every clause the profile chooses, by id."""
        chosen = [c for name in _CHOICES for c in getattr(self, name).values()]
        return tuple(sorted(set(chosen), key=lambda item: item.id))


def _chosen(table: Mapping[str, Clause], name: str, what: str) -> Clause:
    if name not in table:
        raise ValueError(f"name: no {what} {name!r}; {nearest(name, table)}")
    return table[name]


@cache
def load_profile(id: str = "default") -> Profile:
    """A built-in profile; every file of its folder is a part of it."""
    if id != "default":
        raise ValueError(f"id: no built-in profile {id!r}; the only one is 'default'")
    return _build(data_files(f"profiles/{id}"))


def parse_profile(text: str, *, file: str = "profile.toml") -> Profile:
    """An operator's profile from its text, with the clauses it brings along."""
    first = read_toml(text, file=file)
    extends = first.get("extends")
    if extends not in (None, "default"):
        raise EvidenceError(
            file, "extends", "'default' or nothing", repr(extends), advice="correct it"
        )
    below = data_files("profiles/default") if extends else []
    return _build(below, over=(file, text))


def _build(
    files: Sequence[tuple[str, str]], *, over: tuple[str, str] | None = None
) -> Profile:
    merged: dict[str, Any] = {}
    own: list[Clause] = []
    for file, text in files:
        document = _checked(text, file=file)
        own.extend(clauses_of(document, text=text, file=file))
        _merge(merged, document, file=file, replace=False)
    if over is not None:
        document = _checked(over[1], file=over[0])
        own.extend(clauses_of(document, text=over[1], file=over[0]))
        _merge(merged, document, file=over[0], replace=True)
    file = over[0] if over else (files[0][0] if files else "profile")
    texts = [text for _, text in files] + ([over[1]] if over else [])
    digest = hashlib.sha256("\n".join(texts).encode()).hexdigest()
    return _profile(merged, own=own, file=file, digest=digest)


def _checked(text: str, *, file: str) -> dict[str, Any]:
    document = read_toml(text, file=file)
    refuse_unknown(document, _TOP, file=file, place="top level")
    for name in (*_CHOICES, "required_with"):
        for key, value in document.get(name, {}).items():
            if not isinstance(value, str):
                raise EvidenceError(
                    file,
                    f"{name}: {key}",
                    "a text",
                    repr(value),
                    advice="name a clause; a number of your own goes into a [[clause]]",
                )
    refuse_unknown(document.get("required", {}), PURPOSES, file=file, place="required")
    refuse_unknown(
        document.get("advisory", {}), {"of", "except"}, file=file, place="advisory"
    )
    refuse_unknown(document.get("record", {}), _LISTS, file=file, place="record")
    return document


def _merge(
    merged: dict[str, Any], document: Mapping[str, Any], *, file: str, replace: bool
) -> None:
    for name, value in document.items():
        if not isinstance(value, dict):
            merged[name] = value
            continue
        table = merged.setdefault(name, {})
        for key, entry in value.items():
            if key in table and not replace:
                raise EvidenceError(
                    file,
                    f"{name}: {key}",
                    "a name chosen once",
                    "the same name in another file of the profile",
                    advice="remove one of the two",
                )
            table[key] = entry


def _profile(
    merged: Mapping[str, Any], *, own: list[Clause], file: str, digest: str
) -> Profile:
    for key in sorted(_HEADS | {"limits", "required"}):
        if key not in merged:
            raise EvidenceError(
                file, "top level", f"a key {key!r}", "none", advice="add it"
            )
    known = by_id([*load_clauses().values(), *own])
    tables = {
        name: _resolve(merged.get(name, {}), known, file=file, place=name)
        for name in _CHOICES
    }
    names = {item.name for item in fields(PartDefaults)}
    wanted = {name.replace("_", ".", 1) for name in names}
    refuse_unknown(tables["plant"], wanted, file=file, place="plant")
    advisory = merged.get("advisory", {})
    return Profile(
        id=merged["id"],
        title=merged["title"],
        edition=merged["edition"],
        **tables,
        required=MappingProxyType(
            {key: tuple(value) for key, value in merged["required"].items()}
        ),
        required_with=MappingProxyType(dict(merged.get("required_with", {}))),
        advisory=tuple(advisory.get("of", ())),
        advisory_except=tuple(advisory.get("except", ())),
        record=MappingProxyType(
            {key: tuple(value) for key, value in merged.get("record", {}).items()}
        ),
        sha256=digest,
    )


def _resolve(
    table: Mapping[str, str], known: Mapping[str, Clause], *, file: str, place: str
) -> Mapping[str, Clause]:
    for name, id_ in table.items():
        if id_ not in known:
            raise EvidenceError(
                file,
                f"{place}: {name}",
                "the id of a clause",
                repr(id_),
                advice=nearest(id_, known),
            )
    return MappingProxyType({name: known[id_] for name, id_ in table.items()})
