"""Files of readings taken at the swimming hall: a good one, and what can be wrong with one and is then said."""

HEADER = (
    "Boiler 1 at,Boiler 2 at,Boiler 3 at,stack,outdoors,room,wind,barometer,place,share,quantity,value,unit,error,time"
)
FIRST = "high,off,low,hot,41 degF,72 degF,5 mph,,outlet of Boiler 1,,pressure,-0.05,in. w.c.,,9:40"
SECOND = ",,,,,,,,tap in header 2,50 %,gas temperature,140,F,4 F,9:45"
THIRD = ",,,,,,,,boiler room against outdoors,,pressure,-3,Pa,1,"
FOURTH = "off,off,off,cold,,,,,header by a gauge,,pressure,-0.01,in. w.c.,0.002,10:10"
UNREAD = ",,,,,,,,foot of the stack,,gas temperature,,F,,"
GOOD = "\n".join((HEADER, FIRST, SECOND, THIRD, UNREAD, FOURTH)) + "\n"


def changed(old, new):
    assert old in GOOD, old
    return GOOD.replace(old, new, 1)


BROKEN = {
    "empty": ("", "line 1: the file is empty"),
    "no rows": (HEADER, "line 2: no rows"),
    "nothing was read": ("\n".join((HEADER, FIRST.replace("-0.05", ""))), "no reading"),
    "a level column missing": (changed("Boiler 2 at,", "Boiler 2,"), "'boiler 2 at' is missing; is 'boiler 2' meant"),
    "a column unknown": (changed(",time", ",tyme"), "line 1: no column 'tyme'; did you mean 'time'?"),
    "a column of another appliance": (changed(",time", ",Boiler 9 at"), "line 1: no column 'boiler 9 at'; did you"),
    "value missing": (changed(",value,", ",measured,"), "line 1: the column 'value' is missing"),
    "unit missing": (changed(",unit,", ",,"), "line 1: the column 'unit' is missing"),
    "a cell too many": (changed("5 mph,", "5 mph,,"), "line 2: 16 cells under 15 headings"),
    "no condition above": (changed(FIRST, SECOND), "line 2: 'Boiler 1 at', 'Boiler 2 at', "),
    "a level left out": (changed("high,off,low,hot", "high,,low,hot"), "line 2: 'Boiler 2 at' empty; tell all of"),
    "stack left out": (changed("high,off,low,hot", "high,off,low,"), "line 2: 'stack' empty; tell all of Boiler 1 at"),
    "an unknown level": (changed("high,off", "hihg,off"), "line 2: Boiler 1 at: no level 'hihg'; did you mean 'high'?"),
    "a level that it does not have": (changed("high,off", "medium,off"), "Boiler 1 has off, purge, low, high"),
    "neither hot nor cold": (changed(",hot,", ",warm,"), "line 2: stack 'warm': write hot, or cold"),
    "no outdoor temperature": (changed("41 degF", ""), "line 2: outdoors: empty, and not told above; measure"),
    "no room temperature": (changed("72 degF", ""), "line 2: room: empty, and not told above; measure"),
    "weather without a unit": (changed("41 degF", "41"), "line 2: outdoors '41': '41': the unit is missing"),
    "weather in another unit": (changed("72 degF", "72 Pa"), "line 2: room '72 Pa': it needs a temperature"),
    "weather that cannot be": (changed("41 degF", "410 degF"), "must be -60 to 60 degC"),
    "a gale": (changed("5 mph", "500 mph"), "must be 0 to 60 m/s"),
    "a barometer at sea level": (changed("5 mph,", "5 mph,26 inHg").replace("26 inHg,outlet", "26 inHg,outlet"),
                                 "not reduced to sea level"),
    "an unknown place": (changed("outlet of Boiler 1", "outlet of Boiler 7"), "line 2: no place 'outlet of Boiler 7'; "
                         "did you mean"),
    "no place": (changed("outlet of Boiler 1", ""), "line 2: no place ''; the vent has outlet of Boiler 1"),
    "a fan that is not there": (changed("boiler room against outdoors", "fan"), "line 4: no place 'fan'"),
    "a tap without its share": (changed("50 %", ""), "line 3: share: empty; tell where in its section"),
    "a share beyond the section": (changed("50 %", "150 %"), "line 3: share '150 %': must be 0 to 100 %"),
    "a share of no tap": (changed("Boiler 1,,", "Boiler 1,50 %,"), "line 2: share '50 %': told of a tap"),
    "an unknown quantity": (changed("pressure", "presure"), "line 2: no quantity 'presure'; did you mean 'pressure'?"),
    "a quantity not read there": (changed("gauge,,pressure", "gauge,,O2"), "no quantity 'O2'; header by a gauge has"),
    "a decimal comma": (changed("-0.05", '"-0,05"'), "line 2: value '-0,05': write a decimal point, not a comma"),
    "a word": (changed("-0.05", "low"), "line 2: value 'low'"),
    "no unit": (changed("in. w.c.", ""), "line 2: value '-0.05': '-0.05': the unit is missing"),
    "a unit of something else": (changed("in. w.c.", "ft"), "line 2: value '-0.05': it needs a pressure"),
    "no number": (changed("-0.05", "nan"), "line 2: '" + "nan in. w.c.': the number must be finite"),
    "more than can be read": (changed("-0.05", "-50"), "line 2: value -50: only -20.000 in. w.c. to 20.000 in. w.c."),
    "below absolute zero": (changed("140,F", "-600,F"), "line 3: value -600: only -76 °F to 1,832 °F can be read"),
    "an error of nought": (changed("0.002", "0"), "line 6: error '0': must be above 0"),
    "a negative error": (changed("0.002", "-0.002"), "line 6: error '-0.002': must be above 0"),
    "an error in another unit": (changed("4 F", "4 Pa"), "line 3: error '4 Pa': it needs a temperature difference"),
    "a reading twice": (GOOD.replace(THIRD, THIRD + "\n" + THIRD), "line 5: the same is read on line 4 already"),
}  # fmt: skip
