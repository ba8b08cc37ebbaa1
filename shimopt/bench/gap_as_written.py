"""A gap's reading as a job's file holds it, and as it will once a reading was taken: plain values, nothing written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from shimopt.bench.dimensions_said import dimension_fields, value_over, with_dimensions
from shimopt.bench.reading_said import Said, as_value
from shimopt.errors import InputError
from shimopt.words.bench_words import by_words

# forms that a bench can give anew; and of their tables what is the instrument's, and stays
FORMS = ("feeler", "cover_gap", "value", "indicator", "built_up")
_STAYS = ("blade_error", "shims_in", "resolution", "error", "lever_angle", "travel", "round_wheel")


@dataclass(frozen=True, slots=True)
class GapAsWritten:
    """The reading of one gap: the key that holds it and the key's value; form "table" for a row of a table of gaps."""

    name: str
    form: str
    value: Any

    @property
    def spots(self) -> int:
        """At how many spots it is read."""
        return len(self.value) if self.form in ("feeler", "cover_gap") and isinstance(self.value, list) else 1

    def with_said(self, said: Said) -> GapAsWritten:
        """The same once this is said of it. Raises InputError where it cannot be said of it here."""
        if self.form == "table":
            return GapAsWritten(self.name, "table", said)
        if self.form not in FORMS:
            rule, remedy = f"this gap is read by {self.form.replace('_', ' ')}", "change it in the job's file"
            raise InputError.at("", rule, remedy, where=self.name)
        if said.dimensions or self.form == "built_up":
            return self._built_up(said)
        old = self._table(said)
        stays = {key: value for key, value in old.items() if key in _STAYS}
        if said.readings:
            if self.form == "cover_gap":
                raise InputError.at("", "a dial reads no cover", "give blades or a value", where=self.name)
            readings = [as_value(text) for text in said.readings]
            return GapAsWritten(self.name, "indicator", {"readings": readings, **self._of_a_dial(stays)})
        if self.form == "cover_gap":
            stays = {key: value for key, value in stays.items() if said.blades or key != "blade_error"}
            new = {
                key: as_value(text) for key, text in (said.blades or (("value", value_over("", said.value)),))
            } | stays
            return GapAsWritten(self.name, "cover_gap", self._at_spot(said, new))
        if said.value:
            stood = str(self.value) if self.form == "value" else ""
            return GapAsWritten(self.name, "value", as_value(value_over(stood, said.value)))
        blades: dict[str, Any] = {key: as_value(text) for key, text in said.blades}
        blades |= {key: value for key, value in stays.items() if key == "blade_error"}
        return GapAsWritten(self.name, "feeler", self._at_spot(said, blades))

    def _built_up(self, said: Said) -> GapAsWritten:
        """Other lengths of the dimensions that it is built up of."""
        if self.form != "built_up" or not said.dimensions:
            rule, remedy = f"this gap is read by {by_words(self.form)}", "give that, or change it in the job's file"
            raise InputError.at("", rule, remedy, where=self.name)
        new = with_dimensions(self.value, said.dimensions, self.name)
        lengths = [{key: as_value(text) for key, text in one.items()} for one in new]
        return GapAsWritten(
            self.name, "built_up", [old | length for old, length in zip(self.value, lengths, strict=True)]
        )

    def dimensions(self) -> list[dict[str, str]]:
        """What it is built up of, each for its field; none where it is read."""
        return dimension_fields(self.told()) if self.form == "built_up" else []

    def _of_a_dial(self, stays: Mapping[str, Any]) -> dict[str, Any]:
        return {key: value for key, value in stays.items() if self.form == "indicator"}

    def _table(self, said: Said) -> Mapping[str, Any]:
        """The table that is replaced."""
        if isinstance(self.value, list) and self.value and isinstance(self.value[0], dict):
            if self.spots > 1 and not 0 < said.spot <= self.spots:
                rule = f"this gap is read at {self.spots} spots round its face"
                raise InputError.at("", rule, "say at which of them this was read", where=self.name)
            table = self.value[said.spot - 1 if said.spot else 0]
            return table if isinstance(table, dict) else {}
        return self.value if isinstance(self.value, dict) else {}

    def _at_spot(self, said: Said, new: Mapping[str, Any]) -> Any:
        if self.spots == 1:
            return dict(new)
        return [dict(new) if at == said.spot - 1 else one for at, one in enumerate(self.value)]

    def told(self) -> Any:
        """What is read now, as texts: one table of them, or one for each spot."""
        if isinstance(self.value, list):
            return [_texts(one) for one in self.value]
        return _texts(self.value)

    def same_as(self, other: GapAsWritten) -> bool:
        """Whether the same is read."""
        return (self.form, self.told()) == (other.form, other.told())


def as_written(raw: Mapping[str, Any]) -> dict[str, GapAsWritten]:
    """The gaps of a job's tables, by name."""
    found = {}
    for gap in raw.get("gap", []):
        form = next((key for key in FORMS if key in gap), "")
        found[gap.get("name", "")] = GapAsWritten(gap.get("name", ""), form, gap.get(form))
    return found


def _texts(value: Any) -> dict[str, Any]:
    if not isinstance(value, dict):
        return {"value": _text(value)}
    return {key: [_text(one) for one in it] if isinstance(it, list) else _text(it) for key, it in value.items()}


def _text(value: Any) -> Any:
    if isinstance(value, bool) or not isinstance(value, int | Decimal | str):
        return value
    return f"{value:f}" if isinstance(value, Decimal) else str(value)
