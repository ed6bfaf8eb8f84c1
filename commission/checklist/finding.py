"""What a check of a checklist looks at, and what it finds: values without a file or a line."""

from __future__ import annotations

from dataclasses import dataclass

from commission.checklist.schema import Checklist, Item, Scope, Stage

Where = tuple[str | int, ...]
ALL = "*"


@dataclass(frozen=True, slots=True)
class Finding:
    """Something wrong at one place of the checklist, before it is given a file and a line.

    `rests_on` names the other item that it is about, ALL when it rests on all of them: such a
    finding is void while that item could not be read.
    """

    where: Where
    message: str
    remedy: str = ""
    rests_on: str = ""


class Index:
    """All items of a checklist by id, with their places in the file."""

    def __init__(self, checklist: Checklist) -> None:
        self.cautions = checklist.caution
        self.items: dict[str, One] = {}
        self.repeated: list[Finding] = []
        stages: dict[str, int] = {}
        for number, stage in enumerate(checklist.stage):
            if stage.id in stages:
                self.repeated.append(
                    Finding(("stage", number, "id"), f"a stage '{stage.id}' exists already")
                )
            stages.setdefault(stage.id, number)
            for place, item in enumerate(stage.item):
                where: Where = ("stage", number, "item", place)
                if item.id in self.items:
                    self.repeated.append(
                        Finding(
                            (*where, "id"),
                            f"an item '{item.id}' exists already in stage "
                            f"'{self.items[item.id].stage.id}'",
                            "give every item of the checklist its own id",
                        )
                    )
                self.items.setdefault(item.id, One(where, stage, item, self))


@dataclass(frozen=True, slots=True)
class One:
    """One item with its stage and its place in the file."""

    where: Where
    stage: Stage
    item: Item
    index: Index

    @property
    def scope(self) -> Scope:
        return self.item.each or self.stage.each

    @property
    def needs(self) -> str | None:
        return self.item.needs or self.stage.needs

    def finding(
        self, key: str, message: str, remedy: str = "", *more: str | int, rests_on: str = ""
    ) -> Finding:
        return Finding((*self.where, key, *more), message, remedy, rests_on)
