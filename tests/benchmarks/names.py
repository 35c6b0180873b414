"""Invented names and remarks for a large shop, a different one for every number."""

BUILDERS = ("Hollin", "Vantera", "Delmarra", "Corvane", "Ostrander", "Pellworth", "Quillon",
            "Tessaly", "Brandreth", "Marrick")  # fmt: skip
KINDS = ("Iron", "Kest", "Fal", "Lin", "Har", "Meri", "Sab", "Torr", "Vesp", "Wind", "Quo", "Zel",
         "Bro", "Gly", "Prax", "Umbr")  # fmt: skip
ENDS = ("side", "rel", "cata", "den", "row", "dian", "le", "ent", "er", "run", "tano", "phir",
        "mont", "kow", "ula", "wyn")  # fmt: skip
FIRST = ("Arlo", "Bettina", "Casimir", "Dorrit", "Edda", "Fenwick", "Greta", "Halvard", "Ines",
         "Jorun", "Kasper", "Liesel", "Merrin", "Nils", "Odile", "Perrin", "Quenby", "Rolf",
         "Sunniva", "Tobin")  # fmt: skip
BEGIN = ("Ash", "Brack", "Caw", "Dun", "Ester", "Fair", "Gill", "Hawk", "Ingle", "Kirk",
         "Moss", "Nether", "Oak", "Penny", "Raven", "Silver", "Thorn", "Under", "Wester",
         "Yar")  # fmt: skip
END = ("grove", "water", "drey", "mallow", "mont", "lamb", "hurst", "moor", "wood", "bride",
       "ley", "by", "hanger", "well", "hill", "dale", "bury", "ford", "combe", "wick")  # fmt: skip
WISHES = ("More flow, street manners kept", "As quiet at idle as it was", "Pulls from low revs",
          "Freshened, nothing more", "All it will give on the long straight")  # fmt: skip
REMARKS = ("Nothing out of the way", "Short side laid back a little", "Guide boss left proud",
           "Old insert came out clean")  # fmt: skip


def builder(number: int) -> str:
    """Of an engine type."""
    return BUILDERS[number * 7 // 3 % len(BUILDERS)]


def family(number: int) -> str:
    """Of an engine type; with its builder no two are alike."""
    kind = KINDS[number % 16] + ENDS[number // 16 % 16]
    return f"{kind} {97 + 61 * number % 797}"


def alias(number: int) -> str:
    """Alias of an engine type."""
    return f"{END[number % 20]}{ENDS[number // 20 % 16]} {'twin' if number % 3 else 'wedge'}"


def customer(number: int) -> str:
    """A person, or where the number ends in 7 a firm."""
    last = BEGIN[number // 20 % 20] + END[number // 400 % 20]
    return f"{last} & {FIRST[number % 20]}" if number % 10 == 7 else f"{FIRST[number % 20]} {last}"


def wish(number: int) -> str:
    """Work asked for."""
    return WISHES[number % len(WISHES)]


def remark(number: int) -> str:
    """Note on a step."""
    return REMARKS[number % len(REMARKS)]
