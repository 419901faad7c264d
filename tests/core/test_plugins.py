"""The plugin door, with distributions laid out on disk so that the real metadata are read."""

from __future__ import annotations

import inspect
import json
import re
import subprocess
import sys
from collections.abc import Iterator
from importlib.metadata import entry_points
from pathlib import Path
from textwrap import dedent

import pytest
from click.testing import CliRunner

from rigproof import hookspecs, plugins
from rigproof.commands.plugins import command, table
from rigproof.errors import ExitCode, PluginFault
from rigproof.plugins import PluginInfo, Registry, broken_by, load_registry, what_broke

HEAD = """
from rigproof.hookspecs import hookimpl
from rigproof.instruments import Driver
from rigproof.reports import ReportWriter
RIGPROOF_DOOR = 1

class Notice(ReportWriter):
    kind = "notice"
    filename = "notice.txt"
    def write(self, verdict, folder):
        pass
"""
DRIVER = (
    HEAD
    + """
from rigproof.simulation import StandIn

class Half(StandIn):
    pass

class Words(StandIn):
    def answer(self, message):
        return message

class Meter(Driver):
    kind = "meter"
    open = close = errors = lambda self: []
    @classmethod
    def stand_in(cls):
        return %s

@hookimpl
def rigproof_drivers():
    return [Meter]
"""
)
SOUND = (
    HEAD
    + """
@hookimpl
def rigproof_report_writers():
    return [Notice()]
"""
)


class Shelf:
    """A folder on the import path that holds fake distributions, all named `fake-…`."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def put(self, name: str, source: str, distribution: str = "", entry: str = "", metadata: str = "") -> None:
        """A distribution with one module and one entry point; `entry` replaces the line's right side."""
        distribution = distribution or f"fake-{name}"
        module = distribution.replace("-", "_")
        (self.folder / f"{module}.py").write_text(dedent(source))
        info = self.folder / f"{module}-1.2.dist-info"
        info.mkdir()
        (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {distribution}\nVersion: 1.2\n{metadata}")
        (info / "entry_points.txt").write_text(f"[rigproof]\n{name} = {entry or module}\n")

    def load(self) -> Registry:
        return load_registry(
            point
            for point in entry_points(group="rigproof")
            if point.dist and Path(str(point.dist.locate_file(""))) == self.folder
        )

    def fault(self) -> str:
        """The one line about the one broken plugin on the shelf."""
        with pytest.raises(PluginFault) as caught:
            self.load()
        line = str(caught.value)
        assert "\n" not in line
        assert "Traceback" not in line
        assert "; " in line  # a remedy stands behind the cause
        assert caught.value.exit_code is ExitCode.BROKEN_PLUGIN
        return line


@pytest.fixture
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Shelf]:
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    yield Shelf(tmp_path)
    for name, module in list(sys.modules.items()):
        if str(getattr(module, "__file__", "")).startswith(str(tmp_path)):
            del sys.modules[name]


def test_a_sound_plugin_is_found_and_described(shelf: Shelf) -> None:
    shelf.put("paper", SOUND)
    registry = shelf.load()
    assert list(registry.reports) == ["notice"]
    assert registry.reports["notice"].filename == "notice.txt"
    assert registry.sources == {
        "paper": PluginInfo("paper", "fake-paper", "1.2", "fake_paper", {"reports": ["notice"]})
    }


def test_no_plugin_is_an_empty_registry(shelf: Shelf) -> None:
    assert shelf.load() == Registry()


def test_every_hook_of_the_door_fills_a_field_of_the_registry() -> None:
    hooks = [
        name for name, thing in vars(hookspecs).items() if name.startswith("rigproof_") and inspect.isroutine(thing)
    ]
    assert [hook.name for hook in plugins._HOOKS] == hooks
    assert [hook.fills for hook in plugins._HOOKS] == [name for name in vars(Registry()) if name != "sources"]


FAULTS = {
    "an import that fails": (
        "import rigproof.no_such_module",
        "import failed with ModuleNotFoundError: No module named 'rigproof.no_such_module'; repair or",
    ),
    "a module that raises, over several lines": (
        'raise RuntimeError("one\\ntwo\\nthree")',
        "import failed with RuntimeError: one two three; repair or uninstall fake-paper",
    ),
    "a module that cannot be parsed": (
        "def broken(:",
        "import failed with SyntaxError: invalid syntax (fake_paper.py, line 1); repair",
    ),
    "a module that leaves the program": ("raise SystemExit(3)", "import failed with SystemExit: 3; repair"),
    "an exception that cannot be shown": (
        """
        class Mute(Exception):
            def __str__(self):
                raise ValueError
        raise Mute
        """,
        "import failed with Mute: a message that cannot be shown; repair",
    ),
    "no door": ("X = 1", "says no RIGPROOF_DOOR; write RIGPROOF_DOOR = 1 in the module"),
    "another door": ("RIGPROOF_DOOR = 2", "RIGPROOF_DOOR = 2, but this rigproof has door 1; install a version"),
    "a door that is no number": ("RIGPROOF_DOOR = '1'", "RIGPROOF_DOOR = '1', but this rigproof has door 1; install"),
    "a misspelt hook": (
        HEAD + "@hookimpl\ndef rigproof_report_writer():\n    return []",
        "no hook is named 'rigproof_report_writer'; did you mean rigproof_report_writers?",
    ),
    "a hook of its own invention": (
        HEAD + "@hookimpl\ndef coffee():\n    return []",
        "no hook is named 'coffee'; hooks: rigproof_part_models, ",
    ),
    "wrong arguments": (
        HEAD + "@hookimpl\ndef rigproof_drivers(rig):\n    return []",
        "rigproof_drivers(rig) takes arguments; the hook has none: write rigproof_drivers()",
    ),
    "an argument with a default": (
        HEAD + "@hookimpl\ndef rigproof_drivers(rig=None):\n    raise KeyError('bench')",
        "rigproof_drivers() raised KeyError: 'bench'; repair or uninstall fake-paper",
    ),
    "an unmarked hook": (
        HEAD + "def rigproof_drivers():\n    return []",
        "rigproof_drivers is not marked and would never be called; put @hookimpl above it",
    ),
    "a wrapper": (
        HEAD + "@hookimpl(wrapper=True)\ndef rigproof_drivers():\n    return (yield)",
        "rigproof_drivers is a hook wrapper, and there is nothing to wrap; return a list",
    ),
    "a hook that raises": (
        HEAD + "@hookimpl\ndef rigproof_drivers():\n    raise OSError('no bus')",
        "rigproof_drivers() raised OSError: no bus; repair",
    ),
    "a hook that leaves the program": (
        HEAD + "@hookimpl\ndef rigproof_drivers():\n    raise SystemExit",
        "rigproof_drivers() raised SystemExit; repair",
    ),
    "a hook that returns nothing": (
        HEAD + "@hookimpl\ndef rigproof_drivers():\n    pass",
        "rigproof_drivers() returned None; return a list, empty when it has nothing",
    ),
    "a hook that returns a tuple": (
        HEAD + "@hookimpl\ndef rigproof_report_writers():\n    return (Notice(),)",
        "rigproof_report_writers() returned a tuple; return a list",
    ),
    "a class where an instance is due": (
        HEAD + "@hookimpl\ndef rigproof_report_writers():\n    return [Notice]",
        "rigproof_report_writers() returned the class Notice in its list; "
        "return instances of rigproof.reports.ReportWriter",
    ),
    "an instance where a class is due": (
        HEAD + "@hookimpl\ndef rigproof_drivers():\n    return [Notice()]",
        "rigproof_drivers() returned a Notice in its list; return subclasses of rigproof.instruments.Driver",
    ),
    "a class of another kind": (
        HEAD + "@hookimpl\ndef rigproof_drivers():\n    return [Notice]",
        "rigproof_drivers() returned the class Notice in its list; return subclasses of rigproof.instruments.Driver",
    ),
    "an unfinished class": (
        HEAD + "class Half(Driver):\n    kind = 'half'\n@hookimpl\ndef rigproof_drivers():\n    return [Half]",
        "rigproof_drivers() returned Half, which lacks close, errors, open; write what is lacking",
    ),
    "a stand-in that is an instance": (
        DRIVER % "Words(None, None, float)",
        "Meter.stand_in() returned a Words; return a subclass of StandIn itself, not an instance",
    ),
    "a stand-in of another kind": (DRIVER % "Notice", "Meter.stand_in() returned the class Notice; return a subclass"),
    "an unfinished stand-in": (DRIVER % "Half", "Meter.stand_in() returned Half, which lacks answer; write what is"),
    "a stand-in that cannot be had": (DRIVER % "{}['words']", "Meter.stand_in() raised KeyError: 'words' (at "),
    "no kind": (
        HEAD + "del Notice.kind\n@hookimpl\ndef rigproof_report_writers():\n    return [Notice()]",
        "rigproof_report_writers() returned Notice with no kind; give it kind = ",
    ),
    "an empty kind": (
        HEAD + "Notice.kind = ''\n@hookimpl\ndef rigproof_report_writers():\n    return [Notice()]",
        "rigproof_report_writers() returned Notice with kind = ''; give it kind = ",
    ),
    "a kind over two lines": (
        HEAD + "Notice.kind = 'a\\nb'\n@hookimpl\ndef rigproof_report_writers():\n    return [Notice()]",
        r"rigproof_report_writers() returned Notice with kind = 'a\nb'; give it kind = ",
    ),
    "one kind twice": (
        HEAD + "@hookimpl\ndef rigproof_report_writers():\n    return [Notice(), Notice()]",
        "'notice' among the reports is taken by plugin paper (fake-paper 1.2, module fake_paper); rename one",
    ),
}


@pytest.mark.parametrize(("source", "cause"), FAULTS.values(), ids=FAULTS)
def test_a_broken_plugin_is_one_line_with_who_why_and_what_to_do(shelf: Shelf, source: str, cause: str) -> None:
    shelf.put("paper", source)
    assert shelf.fault().startswith(f"plugin paper (fake-paper 1.2, module fake_paper): {cause}")


def test_an_error_that_no_plugin_from_outside_had_a_part_in(shelf: Shelf) -> None:
    """Reached before any code of the plugin ran: not told as the plugin's."""
    shelf.put("zinc", DRIVER % "Words")
    words = shelf.load().drivers["meter"].stand_in()
    assert words is not None
    with pytest.raises(TypeError) as caught:
        words()  # type: ignore[call-arg]
    assert broken_by(caught.value) == ""
    assert re.match(r"TypeError: .*missing 3 required .* \(at .*test_plugins\.py:\d+\)$", what_broke(caught.value))


def test_whose_code_raised_is_found_behind_the_libraries_that_it_calls(shelf: Shelf) -> None:
    shelf.put("zinc", SOUND + "\nimport json\ndef broken():\n    return json.loads('no')\n")
    shelf.load()
    with pytest.raises(ValueError, match="Expecting value") as caught:
        sys.modules["fake_zinc"].broken()
    told = f"plugin zinc (fake-zinc 1.2, module fake_zinc): JSONDecodeError: {caught.value} (at "
    assert broken_by(caught.value).startswith(f"{told}{shelf.folder}/fake_zinc.py:")
    assert broken_by(caught.value).endswith("; mend it there, or uninstall fake-zinc")


def test_ctrl_c_during_an_import_is_the_operators(shelf: Shelf) -> None:
    shelf.put("paper", "raise KeyboardInterrupt")
    with pytest.raises(KeyboardInterrupt):
        shelf.load()


@pytest.mark.parametrize("entry", ["no module", "fake_paper:Notice", "fake-paper"])
def test_an_entry_point_must_name_a_module(shelf: Shelf, entry: str) -> None:
    shelf.put("paper", SOUND, entry=entry)
    assert f"the entry point names '{entry}', which is no module; write a dotted module name alone" in shelf.fault()


def test_an_entry_point_to_a_module_that_is_not_there(shelf: Shelf) -> None:
    shelf.put("paper", SOUND, entry="fake_paper_gone.plugin")
    assert (
        "module fake_paper_gone.plugin): import failed with ModuleNotFoundError: No module named 'fake_paper_gone'; "
        "install fake-paper again, or correct the module its entry point names"
    ) in shelf.fault()


@pytest.mark.parametrize(
    ("entry", "metadata"),
    [
        ("", "Requires-Dist: pluggy\nRequires-Dist: No.Such_Bus<4,>=3.16; extra == 'bus'\n"),
        ("fake_paper [bus]", ""),
    ],
)
def test_a_missing_extra_is_named(shelf: Shelf, entry: str, metadata: str) -> None:
    shelf.put("paper", "import no_such_bus.client", entry=entry, metadata=metadata)
    assert shelf.fault().endswith("; install the extra it needs: pip install 'fake-paper[bus]'")


def test_two_plugins_of_one_kind(shelf: Shelf) -> None:
    shelf.put("paper", SOUND)
    shelf.put("print", SOUND)
    assert shelf.fault() == (
        "plugin print (fake-print 1.2, module fake_print): 'notice' among the reports is taken by "
        "plugin paper (fake-paper 1.2, module fake_paper); rename one or uninstall one"
    )


def test_two_entry_points_of_one_name(shelf: Shelf) -> None:
    shelf.put("paper", SOUND)
    shelf.put("paper", SOUND, distribution="fake-print")
    assert shelf.fault() == (
        "plugin paper (fake-print 1.2, module fake_print): the plugin name 'paper' is taken by "
        "plugin paper (fake-paper 1.2, module fake_paper); rename one or uninstall one"
    )


def test_damaged_metadata_do_not_hide_the_plugin(shelf: Shelf) -> None:
    shelf.put("paper", "X = 1")
    (shelf.folder / "fake_paper-1.2.dist-info" / "METADATA").write_text("")
    assert shelf.fault().startswith("plugin paper (unknown unknown, module fake_paper): says no RIGPROOF_DOOR")


def test_all_broken_plugins_are_reported_in_one_go(shelf: Shelf) -> None:
    shelf.put("zinc", "raise SystemExit")
    shelf.put("paper", SOUND)
    shelf.put("lead", "X = 1")
    with pytest.raises(PluginFault) as caught:
        shelf.load()
    assert [line.split(" (")[0] for line in str(caught.value).splitlines()] == ["plugin lead", "plugin zinc"]


def test_every_installed_distribution_is_looked_at(shelf: Shelf) -> None:
    """Without entry points given, a stranger's broken plugin is found among whatever else is installed here."""
    shelf.put("zinc", "raise SystemExit")
    with pytest.raises(PluginFault, match=r"(?m)^plugin zinc \(fake-zinc 1\.2, module fake_zinc\): import failed"):
        load_registry()


def test_finding_plugins_does_not_load_the_slow_libraries() -> None:
    said = subprocess.run(
        [sys.executable, "-c", "import sys, rigproof.plugins; print({'numpy', 'pydantic', 'pyvisa'} & {*sys.modules})"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert said.stdout.strip() == "set()"


PAPER = PluginInfo("paper", "fake-paper", "1.2", "fake_paper", {"steps": ["rest", "creep"], "reports": ["notice"]})
HOLLOW = PluginInfo("hollow", "fake", "10", "hollow.plugin")


def test_the_table_for_people() -> None:
    assert table([PAPER, HOLLOW]).splitlines() == [
        "plugin  distribution    module         supplies",
        "paper   fake-paper 1.2  fake_paper     steps: rest, creep",
        "                                       reports: notice",
        "hollow  fake 10         hollow.plugin  nothing",
    ]


def test_the_command_lists_for_people_and_machines(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("rigproof.commands.plugins.load_registry", lambda: Registry(sources={"paper": PAPER}))
    shown = CliRunner().invoke(command, [])
    assert (shown.exit_code, shown.output) == (0, table([PAPER]) + "\n")
    said = json.loads(CliRunner().invoke(command, ["--json"]).output)
    assert said == [
        {
            "name": "paper",
            "distribution": "fake-paper",
            "version": "1.2",
            "module": "fake_paper",
            "supplies": {"steps": ["rest", "creep"], "reports": ["notice"]},
        }
    ]


def test_a_fault_leaves_the_command_as_it_is(shelf: Shelf) -> None:
    """The command layer turns it into one line and exit code 5."""
    shelf.put("zinc", "raise SystemExit")
    assert isinstance(CliRunner().invoke(command, []).exception, PluginFault)
