"""Who there is: the practice, its two members, three clients, their places and riders."""

PASSWORD = "windrow-bench-demo"
LEAD = "odalys"

PRACTICE = {
    "name": "Windrow Bench Saddle Fitting",
    "address": "The old wagon shop, Windrow Bench",
    "phone": "555 0100",
    "email": "bench@windrow.example",
    "units": "imperial",
    "currency": "cr",
}
MEMBERS = [
    {
        "username": LEAD,
        "first_name": "Odalys",
        "last_name": "Fernhatch",
        "role": "lead",
        "email": "odalys@windrow.example",
    },
    {
        "username": "perrin",
        "first_name": "Perrin",
        "last_name": "Ashcomb",
        "role": "helper",
        "email": "perrin@windrow.example",
    },
]
CLIENTS = {
    "nettleworth": {
        "name": "Garrick Nettleworth",
        "phone": "555 0111",
        "email": "garrick@tinbrook.example",
        "address": "Bunkhouse 2, Tinbrook Flats",
        "notes": "First fit 120 cr, share of the round's call-out 35 cr, re-checks 60 cr. "
        "Tree order 1,900 cr, of which 600 cr deposit.",
    },
    "marrowby": {
        "name": "Isolde Marrowby",
        "phone": "555 0122",
        "email": "isolde@lanternhill.example",
        "address": "1 Lantern Hill",
        "notes": "Tess rides; she was under age at the first visits.",
    },
    "kettlebar": {
        "name": "Kettlebar Outfit",
        "contact_name": "Rosamund Tuckwell",
        "phone": "555 0133",
        "email": "office@kettlebar.example",
        "address": "Kettlebar headquarters",
        "notes": "String day 480 cr, mileage 60 cr, report set 40 cr, shims 15 cr each.",
    },
}
PLACES = {
    "tinbrook": {
        "name": "Tinbrook Flats",
        "address": "End of Creek Road",
        "gate_note": "Leave the gate as you find it",
        "has_level_ground": True,
        "is_covered": False,
        "has_signal": False,
        "notes": "Level concrete by the wash rack.",
    },
    "lantern_hill": {
        "name": "Lantern Hill",
        "address": "1 Lantern Hill",
        "gate_note": "Bell at the second gate",
        "has_level_ground": True,
        "is_covered": True,
        "has_signal": True,
    },
    "kettlebar": {
        "name": "Kettlebar headquarters",
        "address": "Twelve miles up the Kettlebar road",
        "gate_note": "Wire gate; call the office first",
        "has_level_ground": True,
        "is_covered": True,
        "has_signal": False,
        "notes": "Packed dirt alley in the long barn.",
    },
}
# Weights in riding clothes, in pounds as they were said.
RIDERS = {
    "garrick": {"name": "Garrick Nettleworth", "client": "nettleworth", "pounds": 180},
    "tess": {
        "name": "Tess Marrowby",
        "client": "marrowby",
        "pounds": 128,
        "is_minor": True,
        "guardian": "Isolde Marrowby",
    },
    "hobb": {"name": "Hobb Yarrowe", "client": "kettlebar", "pounds": 195},
    "dilys": {"name": "Dilys Cranmoor", "client": "kettlebar", "pounds": 150},
    "fenwick": {"name": "Fenwick Oulton", "client": "kettlebar", "pounds": 165},
}
# What each client said yes and no to at the first visit.
CONSENTS = {
    "nettleworth": {"records": True, "photos": True, "share_vet": True, "reminders": True},
    "marrowby": {
        "records": True,
        "photos": True,
        "share_vet": True,
        "share_others": True,
        "teaching": False,
        "reminders": True,
    },
    "kettlebar": {"records": True, "photos": True, "share_vet": True, "teaching": True},
}
