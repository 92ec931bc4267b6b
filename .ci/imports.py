"""What each file of a crate imports from its other files, for other scripts to ask.

Read are `use` and every path written into the crate, followed through re-exports to the file that
holds the item. Left out are tests and documentation. Not seen is a method called on a value whose
type is not named.
"""
import re

# Comments, strings and characters, which a lifetime is not.
SILENT = re.compile(r"""//[^\n]*|/\*.*?\*/|\br(#*)".*?"\1|"(?:\\.|[^"\\])*"|'(?:\\.[^']*|[^'\\])'""", re.S)
TEST = re.compile(r"#\[cfg\((?:all\()?test\b[^\]]*\]")
TEST_FILE = re.compile(r"(^|_)tests$")
USE = re.compile(r"\buse\s+([^;]+);")
BRACES = re.compile(r"((?:\w+\s*::\s*)*)\{([^{}]*)\}")
PATH = re.compile(r"(?<![\w:$])\$?\w+(?:\s*::\s*\w+)+")
PUBLIC = re.compile(r"\bpub(?:\([^)]*\))? (?:const (?=fn))?(?:fn|struct|enum|const|static|trait|type) (\w+)")

# By module, as ("mechanics", "fit"): its file; (line, path, name here) of each leaf of a `use`; the
# paths by those names; and the text without `use`, tests and what is silent.
FILE, USES, NAMES, BODY = {}, {}, {}, {}


def read(src):
    """Reads every file below the folder `src`."""
    for file in sorted(src.rglob("*.rs")):
        parts = file.relative_to(src).with_suffix("").parts
        if not any(map(TEST_FILE.search, parts)):
            at = parts[: len(parts) - (parts[-1] in ("mod", "lib"))]
            FILE[at] = file.relative_to(src.parent)
            read_file(at, file.read_text())
    for at in FILE:
        open_globs(at)


def read_file(at, text):
    text = without_tests(SILENT.sub(lambda silent: blank(silent[0]), text))
    USES[at] = []
    for use in USE.finditer(text):
        line = text.count("\n", 0, use.start()) + 1
        USES[at] += [(line, path, name) for path, name in leaves(use[1])]
    NAMES[at] = {name: path for _, path, name in USES[at] if len(path) > 1}
    BODY[at] = USE.sub(lambda use: blank(use[0]), text)


def blank(text):
    return "\n" * text.count("\n")


def without_tests(text):
    while test := TEST.search(text):
        end, depth = test.end(), 0
        while depth or text[end - 1] not in ";}":  # the end of the item
            depth += {"{": 1, "}": -1}.get(text[end], 0)
            end += 1
        text = text[: test.start()] + blank(text[test.start() : end]) + text[end:]
    return text


def leaves(tree):
    """`a::{b, c::{self, d as e}}` as path and name of each leaf."""
    while braces := BRACES.search(tree):
        inner = [braces[1] + leaf.strip() for leaf in braces[2].split(",") if leaf.strip()]
        tree = tree[: braces.start()] + ",".join(inner) + tree[braces.end() :]
    for leaf in tree.split(","):
        path, _, name = leaf.partition(" as ")
        path = re.findall(r"[\w*]+", re.sub(r"::\s*self\s*$", "", path))
        yield path, name.strip() or path[-1]


def open_globs(at):
    """A leaf for each public name of `a` in place of `use a::*`."""
    for line, path, _ in [use for use in USES[at] if use[2] == "*"]:
        USES[at].remove((line, path, "*"))
        if found := target(at, path[:-1]):
            opened = {name: path[:-1] + [name] for name in PUBLIC.findall(BODY[found[0]])}
            NAMES[at] = opened | NAMES[at]
            USES[at] += [(line, path, name) for name, path in opened.items()]


def target(at, path, depth=0):
    """The module that holds what a path written in module `at` means, and the item's name, which is
    empty for a module itself; nothing for what is foreign or local."""
    if path[0] in ("crate", "$crate"):
        at, path = (), path[1:]
    elif path[0] not in ("self", "super", *NAMES[at]) and at + (path[0],) not in FILE:
        return None
    for step, name in enumerate(path):
        if name in ("self", "super"):
            at = at[: len(at) - (name == "super")]
        elif at + (name,) in FILE:
            at += (name,)
        elif name in NAMES[at] and depth < 20:
            return target(at, NAMES[at][name] + path[step + 1 :], depth + 1)
        else:
            return at, name
    return at, ""


def imports(at):
    """(line, module, item, whether it ties the two files) of all that module `at` takes from others.

    A folder that shows what its files hold is tied to them only where it uses it itself; a macro's
    `$crate::` ties whoever calls the macro.
    """
    for line, path, name in USES[at]:
        if found := target(at, path):
            used = re.search(rf"\b{name}\b" + r"\s*\(" * name.islower(), BODY[at])
            yield line, *found, found[1] and (used or found[0][: len(at)] != at)
    for path in PATH.finditer(BODY[at]):
        if found := target(at, re.findall(r"[\w$]+", path[0])):
            yield BODY[at].count("\n", 0, path.start()) + 1, *found, found[1] and path[0][0] != "$"
