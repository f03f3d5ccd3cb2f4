"""Builds the source archive, the wheel and the bill of materials, and looks into all three.

Run by ``scripts/package``, in the environment that has the tools.  What must hold:

* the wheel built from the checkout and the one built from the source archive are equal, byte
  for byte;
* the wheel holds the package with its grammars and page assets, the patterns, forms, feels and
  courses, as they are in the checkout, and nothing else; its metadata say what pyproject.toml says;
* installed where there is no checkout and nothing but the packages of ``locks/soundfont.txt``, its
  command makes a drill, a backing and a course;
* the bill of materials is valid and names every one of these packages.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tarfile
import tempfile
import tomllib
import venv
import zipfile
from collections.abc import Iterator, Mapping
from hashlib import sha256
from importlib import metadata
from pathlib import Path, PurePosixPath

from packaging.metadata import Metadata
from packaging.requirements import Requirement

import sbom
from locks import ROOT, read_lock

PLACE = ROOT / "build" / "packages"
LOCK = "soundfont"  # what scripts/try installs
EXTRAS = "soundfont,hear"  # what that lock is made of, see scripts/lock
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
NAME, VERSION = PROJECT["project"]["name"], PROJECT["project"]["version"]
# Where each folder of the checkout is in the wheel, and kinds of file that must be there.
INSIDE = {"generator/reedmill": NAME, "patterns": f"{NAME}/patterns", "courses": f"{NAME}/courses"}
KINDS = {".py", ".lark", ".css", ".js", ".html", ".png", ".drill", ".form", ".feel", ".toml"}
IN_SOURCE = ("generator", "patterns", "courses", "docs", "tests", "scripts", "locks")


class Refused(Exception):
    """What was built is not what must be published."""


def main() -> None:
    shutil.rmtree(PLACE, ignore_errors=True)
    PLACE.mkdir(parents=True)
    with tempfile.TemporaryDirectory(prefix="reedmill-package-") as folder:
        scratch = Path(folder)
        source, wheel = build(scratch)
        check_source(source)
        check_files(wheel)
        check_metadata(wheel)
        digests = fetch(scratch / "wheels")
        python = install(wheel, scratch)
        try_out(python, scratch / "elsewhere")
        document = bill_of_materials(python, digests, scratch)
    (PLACE / f"{NAME}-{VERSION}.cdx.json").write_text(
        json.dumps(document, indent=1) + "\n", "utf-8"
    )
    for path in sorted(PLACE.iterdir()):
        print(f"  {path.relative_to(ROOT)} ({path.stat().st_size // 1000} kB)")


# ---- building -------------------------------------------------------------------------


def build(scratch: Path) -> tuple[Path, Path]:
    """The source archive and the wheel, which the archive and the checkout build alike."""
    command = [sys.executable, "-m", "build", "--no-isolation", "--outdir"]
    run([*command, str(PLACE), str(ROOT)])  # the archive, and the wheel from the archive
    run([*command, str(scratch / "direct"), "--wheel", str(ROOT)])
    [source], [wheel] = PLACE.glob("*.tar.gz"), PLACE.glob("*.whl")
    [direct] = (scratch / "direct").iterdir()
    if (wheel.name, wheel.read_bytes()) != (direct.name, direct.read_bytes()):
        raise Refused("the source archive and the checkout build different wheels")
    print(f"wheel and source archive: built, {wheel.stat().st_size} bytes alike from both")
    return source, wheel


def tracked(*folders: str) -> Iterator[PurePosixPath]:
    """Every file of the checkout under *folders* that git knows."""
    listed = run(["git", "ls-files", "-z", "--", *folders])
    yield from (PurePosixPath(each) for each in listed.split("\0") if each)


def check_source(source: Path) -> None:
    with tarfile.open(source) as archive:
        files = {each.name.partition("/")[2] for each in archive if each.isfile()}
    pages = {path.name for path in ROOT.glob("*.md")}
    expected = {str(each) for each in tracked(*IN_SOURCE)} | pages
    expected |= {"pyproject.toml", "LICENSE", "NOTICE", ".gitignore", "PKG-INFO"}
    compare(source, expected, files)


def check_files(wheel: Path) -> None:
    expected = {
        str(inside / path.relative_to(folder)): (ROOT / path).read_bytes()
        for folder, inside in ((each, PurePosixPath(INSIDE[each])) for each in INSIDE)
        for path in tracked(folder)
    }
    with zipfile.ZipFile(wheel) as archive:
        found = {each: archive.read(each) for each in archive.namelist()}
    about = f"{NAME}-{VERSION}.dist-info"
    ours = {name: data for name, data in found.items() if not name.startswith(f"{about}/")}
    compare(wheel, set(expected), set(ours))
    if changed := [name for name, data in ours.items() if data != expected[name]]:
        raise Refused(f"{wheel.name} has other bytes than the checkout in {changed}")
    words = {"METADATA", "WHEEL", "RECORD", "entry_points.txt"}
    words |= {f"licenses/{each}" for each in PROJECT["project"]["license-files"]}
    compare(wheel, {f"{about}/{each}" for each in words}, set(found) - set(ours))
    if missing := KINDS - {PurePosixPath(each).suffix for each in ours}:
        raise Refused(f"{wheel.name} has no {sorted(missing)}")
    print(f"wheel: {len(ours)} files, each as in the checkout, and nothing else")


def compare(archive: Path, expected: set[str], found: set[str]) -> None:
    if expected != found:
        raise Refused(
            f"{archive.name} lacks {sorted(expected - found)} and has {sorted(found - expected)} "
            "beyond what git knows"
        )


def check_metadata(wheel: Path) -> None:
    """What an index will show is what pyproject.toml says, by the rules of the standard."""
    about = f"{NAME}-{VERSION}.dist-info"
    with zipfile.ZipFile(wheel) as archive:
        said = Metadata.from_email(archive.read(f"{about}/METADATA"), validate=True)
        commands = archive.read(f"{about}/entry_points.txt").decode()
        texts = PROJECT["project"]["license-files"]
        licences = {each: archive.read(f"{about}/licenses/{each}") for each in texts}
    project = PROJECT["project"]
    always = {each for each in said.requires_dist or () if "extra ==" not in str(each.marker)}
    facts = {
        "name": (said.name, NAME),
        "version": (str(said.version), VERSION),
        "summary": (said.summary, project["description"]),
        "licence": (said.license_expression, project["license"]),
        "Python": (sorted(str(said.requires_python).split(",")),
                   sorted(project["requires-python"].split(","))),
        "packages": (always, {Requirement(each) for each in project["dependencies"]}),
        "extras": (set(said.provides_extra or ()), set(project["optional-dependencies"])),
        "page": (said.description, (ROOT / "README.md").read_text("utf-8")),
        "command": (commands.split(), ["[console_scripts]", "reedmill", "=", "reedmill.cli:main"]),
        "licence's text": (licences, {each: (ROOT / each).read_bytes() for each in texts}),
    }  # fmt: skip
    if wrong := [name for name, (is_said, meant) in facts.items() if is_said != meant]:
        raise Refused(f"{wheel.name}: the metadata do not say what pyproject.toml says: {wrong}")
    print(f"metadata: {len(facts)} facts as in pyproject.toml")


# ---- trying it out --------------------------------------------------------------------


def fetch(wheels: Path) -> Mapping[str, str]:
    """Every package of the lock as a wheel in the folder *wheels*, and the digest of each.

    The digests are those of the files pip fetched, so that of a source archive for a package
    that has no wheel.
    """
    lock = ["--require-hashes", "-r", str(ROOT / "locks" / f"{LOCK}.txt")]
    pip("download", "--no-deps", "--dest", str(wheels), *lock)
    fetched = sorted(wheels.iterdir())
    if sources := [each for each in fetched if each.suffix != ".whl"]:
        options = ["--no-index", "--no-deps", "--wheel-dir", str(wheels)]
        pip("wheel", *options, *(str(each) for each in sources))
    return {sbom.package_of(each.name): sha256(each.read_bytes()).hexdigest() for each in fetched}


def install(wheel: Path, scratch: Path) -> Path:
    """The Python of an environment that has *wheel* and what its metadata ask for, no more."""
    place = scratch / "environment"
    venv.create(place, with_pip=False, symlinks=True)
    python = place / "bin" / "python"
    # From these two folders alone, so that what the metadata ask for must be in the lock.
    folders = [f"--find-links={each}" for each in (scratch / "wheels", wheel.parent)]
    pip("install", "--no-index", *folders, f"{NAME}[{EXTRAS}]=={VERSION}", python=python)
    return python


def pip(command: str, *arguments: str, python: Path | None = None) -> None:
    into = ["--python", str(python)] if python else []
    options = ["--quiet", "--no-input", "--disable-pip-version-check"]
    if command != "install" or not python:
        options.append("--no-build-isolation")
    run([sys.executable, "-m", "pip", *into, command, *options, *arguments],
        extra={"PIP_USER": "0", "PIP_USE_PEP517": "1"})  # fmt: skip


def try_out(python: Path, place: Path) -> None:
    """A drill, a backing and a course, made by the installed command in the folder *place*."""
    place.mkdir()
    home = place / "home"
    home.mkdir()
    clean = {"PATH": "/usr/bin:/bin", "HOME": str(home), "LANG": "C.UTF-8"}
    where = [str(python), "-I", "-c", "import reedmill; print(reedmill.__file__)"]
    if not Path(run(where, place, clean).strip()).is_relative_to(python.parents[1]):
        raise Refused("another Reedmill than the installed one was tried out")
    for words in (
        ["make", "Home from every rung", "--harp", "C", "--drone", "--click", "--out", "drill"],
        ["backing", "--form", "Twelve bars", "--harp", "C", "--choruses", "1", "--out", "backing"],
        ["pack", "Two evenings", "--out", "course"],
    ):
        run([str(python.parent / NAME), *words], place, clean)
    starts = {".pdf": b"%PDF-", ".wav": b"RIFF", ".mid": b"MThd"}
    for folder in ("drill", "backing"):
        made = {path.suffix: path.read_bytes() for path in (place / folder).iterdir()}
        for kind in (".pdf", ".wav", ".mid"):
            if not made.get(kind, b"").startswith(starts[kind]):
                raise Refused(f"the installed command made no {kind} file of a {folder}")
    made_by_course = {path.suffix for path in (place / "course").rglob("*") if path.is_file()}
    if missing := {".pdf", ".mp3", ".html", ".json", ".m3u8"} - made_by_course:
        raise Refused(f"the installed command made a course without {sorted(missing)}")
    print("installed from the wheel: a drill, a backing and a course made")


# ---- the bill of materials --------------------------------------------------------------


def bill_of_materials(python: Path, digests: Mapping[str, str], scratch: Path) -> sbom.Document:
    """Valid, and with every package of the lock, or ``Refused``."""
    path = scratch / "installed.cdx.json"
    run([sys.executable, "-m", "cyclonedx_py", "environment", str(python),
         "--pyproject", str(ROOT / "pyproject.toml"), "--spec-version", sbom.SPEC,
         "--output-reproducible", "--output-file", str(path)])  # fmt: skip
    document = sbom.with_digests(json.loads(path.read_text("utf-8")), digests)
    if wrong := sbom.mistakes_by_the_schema(document):
        raise Refused(f"the bill of materials is not valid CycloneDX {sbom.SPEC}: {wrong}")
    if gaps := sbom.gaps(document, read_lock(LOCK)):
        raise Refused(f"the bill of materials differs from locks/{LOCK}.txt: {gaps}")
    maker = f"cyclonedx-bom {metadata.version('cyclonedx-bom')}"
    count = len(document["components"])
    silent = ", ".join(sbom.without_licence(document)) or "none"
    print(
        f"bill of materials: {count} components, valid CycloneDX {sbom.SPEC}, by {maker}; "
        f"no licence that it can read from: {silent}"
    )
    return document


def run(
    command: list[str],
    cwd: Path = ROOT,
    env: Mapping[str, str] | None = None,
    extra: Mapping[str, str] | None = None,
) -> str:
    """What *command* printed; ``Refused`` with all of it when it failed."""
    done = subprocess.run(
        command, cwd=cwd, env={**(os.environ if env is None else env), **(extra or {})},
        stdin=subprocess.DEVNULL, capture_output=True, text=True,
    )  # fmt: skip
    if done.returncode:
        raise Refused(f"{' '.join(command)} failed:\n{done.stdout}{done.stderr}")
    return done.stdout


if __name__ == "__main__":
    try:
        main()
    except Refused as error:
        sys.exit(f"Not fit to be published: {error}")
