"""Rustdoc's JSON in words: what an item is, and its signature as a reader of the code knows it."""
import re

# By number: every item described, where each foreign one lives, and the path of each public one.
INDEX, PATHS, SHOWN = {}, {}, {}
WORD = {"module": "mod", "function": "fn", "struct_field": "field", "constant": "const", "assoc_const": "const"}
WORD |= {"type_alias": "type", "assoc_type": "type"}


def only(entry):
    """Kind and content of an entry that is one of several kinds."""
    return (entry, {}) if isinstance(entry, str) else next(iter(entry.items()))


def members(numbers):
    """The items of these numbers, but for those that are private."""
    return [INDEX[str(number)] for number in numbers if number is not None]


def listed(parts, form="{}", between=", "):
    """The parts in a form; nothing where there are none."""
    parts = list(parts)
    return form.format(between.join(parts)) if parts else ""


def item(entry):
    """What it is, and that with its signature."""
    kind, inner = only(entry["inner"])
    word = WORD.get(kind, kind)
    known = inner.get("generics", {"params": [], "where_predicates": []})
    text = word + generics(known)
    match kind:
        case "struct" | "variant":
            text += payload(*only(inner["kind"]))
        case "struct_field":
            text += f" {typed(inner)}"
        case "constant" | "assoc_const" | "static":
            text += f" {typed(inner['type'])}"
        case "type_alias":
            text += f" = {typed(inner['type'])}"
        case "function":
            marks = [mark for mark in ("const", "async", "unsafe") if inner["header"][f"is_{mark}"]]
            text = " ".join([*marks, text]) + function(inner["sig"])
        case "trait" | "assoc_type":
            text += bounds(inner["bounds"], ": {}")
        case "module" | "enum" | "macro":
            pass
        case _:
            raise NotImplementedError(kind)
    text += listed(map(condition, known["where_predicates"]), " where {}")
    return word, text + ", non-exhaustive" * ("non_exhaustive" in entry["attrs"])


def payload(form, inner):
    """What a variant or a struct holds; named fields of a struct are items themselves."""
    match form:
        case "plain":
            return " { .. }" if inner and inner["has_stripped_fields"] else ""
        case "struct":
            fields = [(field["name"], typed(field["inner"]["struct_field"])) for field in members(inner["fields"])]
            return " { " + ", ".join(f"{name}: {type}" for name, type in fields) + " }"
        case "tuple":
            types = [typed(field["inner"]["struct_field"]) for field in members(inner)]
            # What is private comes as nothing.
            return f"({', '.join(types)}{', ' * (0 < len(types) < len(inner))}{'..' * (len(types) < len(inner))})"
    return ""


def implemented(impl, number):
    """The trait that an impl gives to the type of this number, and the types that it sets; nothing for
    one that is automatic or hidden, or another type's."""
    trait, subject = impl["trait"], impl["for"].get("borrowed_ref", {"type": impl["for"]})["type"]
    known = PATHS[str(trait["id"])]
    hidden = known["crate_id"] == 0 and trait["id"] not in SHOWN or known["path"][-1] == "StructuralPartialEq"
    automatic = impl["is_synthetic"] or impl["blanket_impl"]
    if hidden or automatic or subject.get("resolved_path", {}).get("id") != number:
        return ""
    types = [member for member in members(impl["items"]) if "assoc_type" in member["inner"]]
    types = (f"{member['name']} = {typed(member['inner']['assoc_type']['type'])}" for member in types)
    return named(trait) + " by reference" * (subject is not impl["for"]) + listed(types, " with {}")


def function(sig):
    inputs = [f"{name}: {typed(type)}" for name, type in sig["inputs"]]
    # `self: &mut Self` is written `&mut self`.
    inputs = [re.sub(r"^self: ((?:&(?:'\w+ )?(?:mut )?)?)Self$", r"\1self", text) for text in inputs]
    return f"({', '.join(inputs)})" + returned(sig["output"])


def returned(type):
    return f" -> {typed(type)}" if type else ""


def generics(entry):
    """The parameters in angles; those made by an `impl` among the arguments are shown there."""
    shown = []
    for param in entry["params"]:
        kind, inner = only(param["kind"])
        if kind == "lifetime":
            shown.append(param["name"] + listed(inner["outlives"], ": {}", " + "))
        elif kind == "const":
            shown.append(f"const {param['name']}: {typed(inner['type'])}")
        elif not inner["is_synthetic"]:
            default = f" = {typed(inner['default'])}" if inner["default"] else ""
            shown.append(param["name"] + bounds(inner["bounds"], ": {}") + default)
    return listed(shown, "<{}>")


def condition(predicate):
    kind, inner = only(predicate)
    if kind == "lifetime_predicate":
        return inner["lifetime"] + listed(inner["outlives"], ": {}", " + ")
    return typed(inner["type"]) + bounds(inner["bounds"], ": {}")


def bounds(entries, form="{}"):
    kinds = map(only, entries)
    return listed((inner if kind == "outlives" else bound(inner) for kind, inner in kinds), form, " + ")


def bound(entry):
    return "?" * (entry["modifier"] == "maybe") + named(entry["trait"])


def named(path):
    """A type or trait: of this crate by its path from the room on, another's by crate and name."""
    if path["id"] in SHOWN:
        return "::".join(SHOWN[path["id"]][0][1:]) + angles(path["args"])
    if str(path["id"]) not in PATHS:  # hidden from the documentation
        return path["path"].split("::")[-1] + angles(path["args"])
    home, *_, name = PATHS[str(path["id"])]["path"]
    home = home.removesuffix("_core")  # what a crate shows of an inner one
    return ("" if home in ("core", "alloc", "std") else f"{home}::") + name + angles(path["args"])


def angles(arguments):
    if not arguments:
        return ""
    form, inner = only(arguments)
    if form == "parenthesized":
        return f"({', '.join(map(typed, inner['inputs']))})" + returned(inner["output"])
    fixed = (f"{part['name']} = {argument(only(part['binding'])[1])}" for part in inner["constraints"])
    return listed([*map(argument, inner["args"]), *fixed], "<{}>")


def argument(entry):
    kind, inner = only(entry)
    return typed(inner) if kind == "type" else inner if kind == "lifetime" else inner["expr"]


def typed(entry):
    kind, inner = only(entry)
    match kind:
        case "primitive" | "generic":
            return "!" if inner == "never" else inner
        case "resolved_path":
            return named(inner)
        case "tuple":
            return f"({', '.join(map(typed, inner))})"
        case "slice":
            return f"[{typed(inner)}]"
        case "array":
            return f"[{typed(inner['type'])}; {inner['len']}]"
        case "borrowed_ref":
            lifetime = f"{inner['lifetime']} " if inner["lifetime"] else ""
            return f"&{lifetime}{'mut ' * inner['is_mutable']}{typed(inner['type'])}"
        case "qualified_path":
            return f"{typed(inner['self_type'])}::{inner['name']}{angles(inner['args'])}"
        case "impl_trait":
            return f"impl {bounds(inner)}"
        case "function_pointer":
            return f"fn{function(inner['sig'])}"
    raise NotImplementedError(kind)
