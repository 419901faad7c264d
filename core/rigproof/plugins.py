"""Finding the plugins, and saying in one line each which of them is broken, and why.

A plugin is the module an entry point of the group `rigproof` names. None of them is special: the bundled ones
come in by the same door. Nothing is kept between calls; whoever needs the registry loads it once and hands it on.
"""

from __future__ import annotations

import difflib
import importlib
import inspect
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from importlib.metadata import EntryPoint, entry_points
from traceback import walk_tb
from types import ModuleType
from typing import TYPE_CHECKING, Any

import pluggy

from rigproof import hookspecs
from rigproof.errors import PluginFault, raised_at

if TYPE_CHECKING:
    from rigproof.instruments import Driver
    from rigproof.models import PartModel, ReductionModel, RosetteModel
    from rigproof.reports import ReportWriter
    from rigproof.simulation import Simulator
    from rigproof.starts import Start
    from rigproof.steps.base import Step


@dataclass(frozen=True)
class PluginInfo:
    """One plugin, where it comes from and what it supplies (field of `Registry` → its kinds, in the plugin's order)."""

    name: str
    distribution: str
    version: str
    module: str
    supplies: dict[str, list[str]] = field(default_factory=dict)


@dataclass
class Registry:
    """Everything the plugins supply, by `kind`; `sources` holds the plugins by the name of their entry point."""

    parts: dict[str, type[PartModel]] = field(default_factory=dict)
    reductions: dict[str, type[ReductionModel]] = field(default_factory=dict)
    rosettes: dict[str, type[RosetteModel]] = field(default_factory=dict)
    drivers: dict[str, type[Driver]] = field(default_factory=dict)
    steps: dict[str, type[Step]] = field(default_factory=dict)
    simulators: dict[str, Simulator] = field(default_factory=dict)
    reports: dict[str, ReportWriter] = field(default_factory=dict)
    starts: dict[str, Start] = field(default_factory=dict)
    sources: dict[str, PluginInfo] = field(default_factory=dict)


@dataclass(frozen=True)
class _Hook:
    """A hook, the field of `Registry` it fills, and the base of what it must return: classes, or instances."""

    name: str
    fills: str
    base_module: str
    base: str
    instances: bool = False

    @property
    def wanted(self) -> str:
        return f"{'instances' if self.instances else 'subclasses'} of {self.base_module}.{self.base}"


_HOOKS = (
    _Hook("rigproof_part_models", "parts", "rigproof.models", "PartModel"),
    _Hook("rigproof_reduction_models", "reductions", "rigproof.models", "ReductionModel"),
    _Hook("rigproof_rosette_models", "rosettes", "rigproof.models", "RosetteModel"),
    _Hook("rigproof_drivers", "drivers", "rigproof.instruments", "Driver"),
    _Hook("rigproof_step_kinds", "steps", "rigproof.steps.base", "Step"),
    _Hook("rigproof_simulators", "simulators", "rigproof.simulation", "Simulator", instances=True),
    _Hook("rigproof_report_writers", "reports", "rigproof.reports", "ReportWriter", instances=True),
    _Hook("rigproof_starts", "starts", "rigproof.starts", "Start", instances=True),
)


class _Broken(Exception):
    """Cause and remedy, before the plugin's name is put in front."""


def load_registry(points: Iterable[EntryPoint] | None = None) -> Registry:
    """Load every plugin and collect what they supply.

    `points`: the entry points to load; None takes those of every installed distribution.
    Raises `PluginFault` with one line per broken plugin, never only the first.
    """
    found = sorted(
        entry_points(group=hookspecs.GROUP) if points is None else points, key=lambda point: (point.name, point.value)
    )
    registry, faults = Registry(), []
    for point in found:
        info = _describe(point)
        try:
            if info.name in registry.sources:
                raise _Broken(_taken(f"the plugin name '{info.name}'", registry.sources[info.name]))
            registry.sources[info.name] = info
            for hook, thing in _supplied(_module(point), info):
                _add(registry, info, hook, thing)
        except _Broken as fault:
            faults.append(_one_line(f"{_named(info)}: {fault}"))
    if faults:
        raise PluginFault("\n".join(faults))
    return registry


def broken_by(error: BaseException) -> str:
    """The plugin from outside whose code raised, its error and place, in one line; "" where none of it had a part."""
    outside = [info for info in map(_describe, entry_points(group=hookspecs.GROUP)) if info.distribution != "rigproof"]
    for frame, line in reversed(list(walk_tb(error.__traceback__))):
        name = frame.f_globals.get("__name__", "")
        for info in outside:
            if f"{name}.".startswith(f"{info.module.partition('.')[0]}."):
                at = f"{frame.f_code.co_filename}:{line}"
                return f"{_named(info)}: {_say(error)} (at {at}); mend it there, or uninstall {info.distribution}"
    return ""


def what_broke(error: BaseException) -> str:
    """The same; of what is in no plugin from outside the error and its place."""
    frame, line = list(walk_tb(error.__traceback__))[-1]
    return broken_by(error) or f"{_say(error)} (at {frame.f_code.co_filename}:{line})"


def _named(info: PluginInfo) -> str:
    return f"plugin {info.name} ({info.distribution} {info.version}, module {info.module})"


def _describe(point: EntryPoint) -> PluginInfo:
    """What is known of a plugin before it is imported; damaged metadata is no reason to fail."""
    try:
        metadata = point.dist.metadata if point.dist else None
    except FileNotFoundError:  # raised for an empty file where the backport `importlib_metadata` is at work
        metadata = None
    name, version = (str(metadata[key] or "") if metadata else "" for key in ("Name", "Version"))
    module = point.value.partition("[")[0].strip()
    return PluginInfo(point.name, name or "unknown", version or "unknown", module)


def _module(point: EntryPoint) -> ModuleType:
    """Import the plugin and look at the version of the door it was written for."""
    name = _describe(point).module
    if not all(part.isidentifier() for part in name.split(".")):
        raise _Broken(f"the entry point names '{point.value}', which is no module; write a dotted module name alone")
    try:
        module = importlib.import_module(name)
    except KeyboardInterrupt:  # the operator, not the plugin
        raise
    except BaseException as error:  # a plugin may also leave by SystemExit
        raise _Broken(f"import failed with {_say(error)}; {_import_remedy(point, name, error)}") from error
    door = getattr(module, "RIGPROOF_DOOR", None)
    if door is None:
        raise _Broken(f"says no RIGPROOF_DOOR; write RIGPROOF_DOOR = {hookspecs.DOOR} in the module")
    if type(door) is not int or door != hookspecs.DOOR:
        raise _Broken(
            f"RIGPROOF_DOOR = {_short(door)}, but this rigproof has door {hookspecs.DOOR}; "
            "install a version of the plugin made for it"
        )
    return module


def _import_remedy(point: EntryPoint, module: str, error: BaseException) -> str:
    missing = error.name or "" if isinstance(error, ModuleNotFoundError) else ""
    distribution = _describe(point).distribution
    if missing and f"{module}.".startswith(f"{missing}."):
        return f"install {distribution} again, or correct the module its entry point names"
    if missing and (extra := _extra_for(missing, point)):
        return f"install the extra it needs: pip install '{distribution}[{extra}]'"
    return f"repair or uninstall {distribution}"


def _extra_for(missing: str, point: EntryPoint) -> str:
    """The extra that brings the missing module, by the distribution's own metadata; "" when it does not say."""
    top = missing.partition(".")[0].lower().replace("_", "-")
    try:
        requires = (point.dist.requires if point.dist else None) or ()
    except FileNotFoundError:
        requires = ()
    for requirement in requires:
        match = re.match(r"\s*([\w.-]+).*\bextra\s*==\s*['\"]([\w.-]+)['\"]", requirement)
        if match and re.sub(r"[-_.]+", "-", match[1]).lower() == top:
            return match[2]
    return point.extras[0] if point.extras else ""


def _supplied(module: ModuleType, info: PluginInfo) -> Iterator[tuple[_Hook, Any]]:
    """Everything one plugin returns, hook by hook, each thing looked at."""
    callers = _register(module, info)
    for hook in _HOOKS:
        for implementation in getattr(callers, hook.name).get_hookimpls():
            # Called itself, not through the manager: pluggy drops None, and that None is a fault to be told.
            if implementation.hookwrapper or implementation.wrapper:
                raise _Broken(f"{hook.name} is a hook wrapper, and there is nothing to wrap; return a list")
            try:
                things = implementation.function()
            except KeyboardInterrupt:
                raise
            except BaseException as error:
                raise _Broken(f"{hook.name}() raised {_say(error)}; repair or uninstall {info.distribution}") from error
            if not isinstance(things, list):
                raise _Broken(f"{hook.name}() returned {_kind_of(things)}; return a list, empty when it has nothing")
            for thing in things:
                _inspect(hook, thing)
                yield hook, thing


def _register(module: ModuleType, info: PluginInfo) -> pluggy.HookRelay:
    """Show the module to a manager of its own, so that whatever pluggy finds wrong is this plugin's."""
    manager = pluggy.PluginManager(hookspecs.GROUP)
    manager.add_hookspecs(hookspecs)
    try:
        manager.register(module, info.name)
        manager.check_pending()
    except pluggy.PluginValidationError as error:
        raise _Broken(_hook_fault(manager, module, error)) from error
    for hook in _HOOKS:
        if hasattr(module, hook.name) and not getattr(manager.hook, hook.name).get_hookimpls():
            raise _Broken(f"{hook.name} is not marked and would never be called; put @hookimpl above it")
    return manager.hook


def _hook_fault(manager: pluggy.PluginManager, module: ModuleType, error: pluggy.PluginValidationError) -> str:
    known = [hook.name for hook in _HOOKS]
    for name in dir(module):
        if name not in known and manager.parse_hookimpl_opts(module, name) is not None:
            near = difflib.get_close_matches(name, known, 1)
            return f"no hook is named '{name}'; {f'did you mean {near[0]}?' if near else 'hooks: ' + ', '.join(known)}"
    for name in known:
        function = getattr(module, name, None)
        if inspect.isroutine(function) and inspect.signature(function).parameters:
            return f"{name}{inspect.signature(function)} takes arguments; the hook has none: write {name}()"
    return f"{_say(error)}; see rigproof.hookspecs for the hooks"


def _inspect(hook: _Hook, thing: Any) -> None:
    """Type and `kind` of one thing a hook returned."""
    base = getattr(importlib.import_module(hook.base_module), hook.base)  # late: --help must not wait for numpy
    right = isinstance(thing, base) if hook.instances else isinstance(thing, type) and issubclass(thing, base)
    if not right:
        raise _Broken(f"{hook.name}() returned {_kind_of(thing)} in its list; return {hook.wanted}")
    cls = type(thing) if hook.instances else thing
    if inspect.isabstract(cls):
        lacking = ", ".join(sorted(cls.__abstractmethods__))
        raise _Broken(f"{hook.name}() returned {cls.__name__}, which lacks {lacking}; write what is lacking")
    kind = getattr(thing, "kind", None)
    if not isinstance(kind, str) or not kind or kind != _one_line(kind):
        said = "no kind" if kind is None else f"kind = {_short(kind)}"
        raise _Broken(f"{hook.name}() returned {cls.__name__} with {said}; give it kind = 'the word in the documents'")
    if hook.fills == "drivers":
        _inspect_stand_in(cls)


def _inspect_stand_in(driver: type[Driver]) -> None:
    """What a driver names to answer in its instrument's place: a class that can answer, or nothing."""
    call = f"{driver.__name__}.stand_in()"
    try:
        made: Any = driver.stand_in()
    except Exception as error:
        raise _Broken(f"{call} raised {_say(error)} (at {raised_at(error, driver)}); let it return a class") from error
    if made is None:
        return
    from rigproof.simulation import StandIn

    if not (isinstance(made, type) and issubclass(made, StandIn)):
        raise _Broken(f"{call} returned {_kind_of(made)}; return a subclass of StandIn itself, not an instance")
    if inspect.isabstract(made):
        lacking = ", ".join(sorted(made.__abstractmethods__))
        raise _Broken(f"{call} returned {made.__name__}, which lacks {lacking}; write what is lacking")


def _add(registry: Registry, info: PluginInfo, hook: _Hook, thing: Any) -> None:
    table = getattr(registry, hook.fills)
    if thing.kind in table:
        holders = (plugin for plugin in registry.sources.values() if thing.kind in plugin.supplies.get(hook.fills, ()))
        raise _Broken(_taken(f"'{thing.kind}' among the {hook.fills}", next(holders)))
    table[thing.kind] = thing
    info.supplies.setdefault(hook.fills, []).append(thing.kind)


def _taken(what: str, holder: PluginInfo) -> str:
    return f"{what} is taken by {_named(holder)}; rename one or uninstall one"


def _say(error: BaseException) -> str:
    try:
        text = str(error)
    except Exception:  # a broken plugin may also bring a broken exception
        text = "a message that cannot be shown"
    return _short_text(f"{type(error).__name__}: {text}" if text else type(error).__name__)


def _kind_of(thing: Any) -> str:
    return f"the class {thing.__name__}" if isinstance(thing, type) else _short(thing)


def _short(thing: Any) -> str:
    """A value a person may recognise, without trusting the plugin's own `repr`."""
    return _short_text(repr(thing)) if isinstance(thing, str | int | float | None) else f"a {type(thing).__name__}"


def _short_text(text: str) -> str:
    line = _one_line(text)
    return line if len(line) <= 200 else f"{line[:199]}…"


def _one_line(text: str) -> str:
    return " ".join(text.split())
