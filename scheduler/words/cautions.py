"""The cautions shown wherever work can hurt a person or a specimen, each with its source.

They are the usual cautions and no more: safety sheets, local law and licensed practice come first.
"""

from __future__ import annotations

# The wing vein: an answer on Graphium sarpedon, knowledge.awaisora.com/?p=70492 (S10); the
# abdomen: common practice, no source.
HOW_TO_TEST = """\
How to test: with a pin, lift a vein near the tip of one wing a hair's breadth; then touch the \
abdomen from the side. Wing and body stiff, nothing gives: dry. Anything that gives: soft, \
leave it."""

# The same in short, for a screen that is read every day.
SOFT_IS = """\
Wing vein or abdomen gives under a pin: soft,"""

# Never on a rainy day: Gray, AMNH Direction Leaflet 5, 1947, as quoted at
# taxonomiccollections.blogspot.com/2015/10 (S2c). Wings fall in moist air: S1 p. 35.
NOT_WHEN_DAMP = """\
Take nothing off on a damp or rainy day: dry wings take up moisture, soften and droop."""

# Scale dust and allergy: CDC MMWR 33(31):448, 1984. Pin points: S1 p. 31. Blades: common
# practice, no source. Hairs of adults: An. Acad. Bras. Cienc. 2015, abstract on Hylesia
# (scielo.br, S0001-37652015000401763); of the browntail, carried over from its caterpillar:
# PubMed 2510913, abstract.
BENCH = """\
Mind pins and blades. Scale dust can cause allergy, and hairs of some moths (browntails, \
processionaries, Hylesia) a rash: air the room, wear a mask, do not touch your eyes."""

# Mould after 2 days, decay after about 3 at 18-24 C, inhibitors: S1 p. 29; flammable, volatile
# solvents: S1 pp. 8-9. Phenol flammable, corrosive, very toxic, also through the skin: U.S. EPA
# text on hazardous household waste, kept at webarchive.library.unt.edu (eot2008); so its safety
# data sheets, H311 and H314 (chemicalbook.in/sds/Phenol.htm).
CHAMBER = """\
Look for mould and decay every time, and take everything out by its latest moment. Mould \
inhibitors and solvents are harmful, solvents also flammable; phenol burns and poisons through \
the skin: air the room, keep flames away, wear gloves and follow the safety data sheet."""

# `BENCH` in short, for a screen that is read every day.
AT_THE_BENCH = """\
Mind pins, blades, scale dust and hairs that sting: air the room, wear a mask."""

# `CHAMBER` and `BENCH` in short, for places with room for one line.
IN_SHORT = """\
Mind mould, fumes, pins, blades, scale dust and hairs"""

# Greasing, melting strips and foam: S1 p. 37, LEPS-L list post of 19 Jul 2001; not above
# 40-45 C: lepiforum.de 2016 (said of unmounted stock). Fire: common sense, no source.
WARM = """\
Warm cabinets: fat runs and greases the wings, waxed strips and foam warp, and heat left alone \
is a fire. Stay within the table's 30-40 deg C, vented, watched, nothing flammable inside."""

# Blown on from behind, fluttering wings are ready: Gray, AMNH Direction Leaflet 5, 1947, as
# quoted at taxonomiccollections.blogspot.com/2015/10 (S2). Put back what does not move under
# gentle pressure: S1 p. 37.
FIRST_LOOK = """\
Blow on the wings from behind: if they flutter, it is ready. If they stay stiff under a gentle \
push, it goes back in."""

# The same in short.
LIMP_OR_NOT = """\
Blow from behind: limp wings flutter; what a soft push finds stiff goes back."""

# Frozen noctuids limp on thawing: R. S. Wilkinson, Further observations on freezing insects for
# storage, p. 273. Stiff within minutes of death: S1 p. 28. Relaxed ones dry so fast that
# antennae break: S1 p. 37.
NO_CHAMBER = """\
What is limp needs no chamber: mount it at once, one at a time, before it stiffens."""

# Mice, ants, dermestid beetles, booklice, roaches while drying; water pans, netting: S1 p. 37.
PESTS = """\
Drying bodies draw ants, carpet beetles, booklice and roaches: look for them at every test, \
stand the boards in netting or on feet in water."""

# 2-5 days at -20 to -25 C, dry and bagged: S1 p. 49; a reply on NHCOLL-L uses 72 hours at -30 C
# and finds 48 too little. Not straight from the board into the box: Emirates Nat. Hist. Group
# Bull. 16, 1982.
INTO_THE_CABINET = """\
Put nothing straight into the cabinet: bag what is dry and freeze it 2-5 days at -20 to -25 \
deg C, and let it warm up in its bag."""

# Check lists and national law before anything is taken, sold or sent: wobam.co.uk; written
# approval where in doubt: LEPS-L list post of Aug 1998; Lep. Soc. Statement on Collecting, 2019.
PERMITS = """\
Protected species, imports and exports need permits: local law, CITES and the receiver's rules \
come first."""
