"""Cautions in one place: every text that is printed because work can hurt people, with the standard that it refers to.

Which of them a case gets is said in ``cautions_kinds.py`` (by process and set-up, always printed) and ``cautions_run.py`` (by
the numbers of the run). Standards are named for the reader to look up; nothing here stands in for their text. What has no
standard is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping

DEFERENCE = (
    "Starting values for a supervised trial. Electrical, pressure, fire, ventilation and guarding work is for licensed or "
    "competent persons under local codes. Product approval needs the tests in the product standard."
)

#: standards that the texts name -> what they are about, and what they leave out
STANDARDS: Mapping[str, str] = {
    "ISO 13732-1": "burns by hot surfaces: gives thresholds, sets no limits",
    "IEC 60519-1": "safety of electric heating plant, general",
    "IEC 60519-12": "safety of infrared heating plant",
    "NFPA 86": "ovens: ventilation that keeps vapour below 25 % of the lower flammable limit",
    "EN 1539": "coating ovens that release flammable vapour; portable infrared rigs are outside it",
    "EN 289": "compression moulding machines",
    "EN 12409": "thermoforming machines; gas-heated units are outside it",
    "ISO 20430": "injection moulding machines",
    "EN 1114-1": "extruders and extrusion lines; fire and fume of the material are outside it",
    "EN 12301": "calenders",
}

HOT = 333.15  # K, metal that can be reached: assess it; and
HOT_PLASTIC = 343.15  # K, plastic. Common practice, no source
HYDROGEN_CHLORIDE_FROM = 478.15  # K, where PVC gives it off in earnest; common practice, no source
DOSE = 0.3  # of the heat life, beyond which it begins; common practice, no source
BOILS = 373.15  # K, of water at the pressure of the air
WARM_WATER = (293.15, 318.15)  # K, in which legionella grow; public health guidance, from memory

# -- heat and fire -----------------------------------------------------------------------------------------------------------

HOT_SURFACE = "Hot metal and hot plastic burn the skin at once: gloves, sleeves, guards; assess reachable surfaces by ISO 13732-1."
CUT_OUT = (
    "Heaters need an over-temperature cut-out of their own, apart from the controller and its sensor, that stays off until it "
    "is reset by hand (IEC 60519-1)."
)
RADIANT = (
    "Radiant panels set fire to a sheet that sags onto them or stays too long: keep the sheet clear of the lower panel, "
    "have panels retract or shut off when the line stops (IEC 60519-1, IEC 60519-12), and never leave a loaded oven."
)
SAGGING_ON_ELEMENTS = (
    "Hot sheet that slips out of its frame falls on elements and burns: frame gripped all round, elements guarded by a mesh and "
    "switched off before a fallen sheet is fetched, extinguisher at hand."
)
LAMPS = (
    "A web that stops under lamps takes fire: shutter or retraction and power off by an interlock with the drive, tested at "
    "every start, extinguisher at hand; lamps go on glowing after they are off (IEC 60519-1, IEC 60519-12)."
)
EYES = "Do not look into glowing lamps or elements: screens or filter glasses against infrared, and no bare hand near them."
HOT_ROLLS = (
    "Rolls and drums burn, and leaks of hot oil ignite: cover what can be reached, assess surfaces by ISO 13732-1."
)
HOT_PARTS = "Hot mould faces and freshly ejected parts burn; sprues and thick places stay hot inside for minutes."
DUST = (
    "Powder and dust of moulding materials, fillers and regrind can explode in air and harm lungs: extraction, no sweeping up "
    "with air, no open flame, earthed plant."
)

# -- guards and pressure -----------------------------------------------------------------------------------------------------

CLAMP = (
    "Clamp frames and moving tables pinch and crush: never reach in with the guards open or defeated (EN 12409; gas-heated units "
    "are outside it)."
)
TOOL = (
    "A forming tool and the sheet on it stay hot enough to burn; vacuum and air pressure move tables at once: release pressure "
    "before the frame is opened, and keep hands out of the tool's travel."
)
UNDER_PRESSURE = (
    "A modest pressure on a modest opening is tonnes: hold pressure times area against the clamp's rating (at most 60 % of it), "
    "interlock the clamp, and never unclamp or reach in under pressure."
)
BLOWING = (
    "A blown sheet can burst and a blank can fly: relief valve set just above the working pressure, a screen between dome and "
    "people, pressure released and shown to be released before anyone comes near."
)
VACUUM_BOX = (
    "A vacuum box is pressed on by the air from all sides and can cave in: build it for a full vacuum, no thin or cracked windows, "
    "eye protection, vent before opening."
)
TRIMMING = (
    "Saws, routers and knives that trim parts cut: guards on, part clamped and cold, eye protection, dust extracted."
)
PRESS = (
    "The press crushes: two-hand control and guards as in EN 289, never reach in, lock out before clearing; pressure times area "
    "against its rating, accumulators without pressure before work on it."
)
OPEN_MOULD = "Never reach into an open mould; lock out and let stored pressure off before clearing."
NIPS = (
    "In-running nips draw hands in: nip guards, emergency stop within reach, and the stopping distance measured at the highest "
    "speed; thread up at crawl only, never clear a nip that turns (EN 12301 for calenders)."
)
MILL_NIP = (
    "The in-running nip of a mill draws hands in: emergency stop within reach and its stopping distance tested, no hand feeding "
    "near the nip, cut the band away from it."
)
EXTRUDER = (
    "Die and barrel hold melt under pressure: guards as in EN 1114-1 (which leaves out fire and fume of the material), nobody in "
    "front of the die at start-up, never undo a hot die that may be blocked."
)
PIPE = (
    "Haul-off and saw draw in and cut: guards interlocked; compressed air inside a pipe is stored energy, vent before "
    "cutting."
)
WIRE = (
    "Wire at speed cuts and whips: guarded path, no gloves near capstans; preheater wheels and spark tester carry "
    "voltage."
)
MELT = "Melt under pressure: guard (ISO 20430), purge with the nozzle clear and hands away; trapped melt spits."
START_UP = (
    "Hot melt at start-up burns and sticks: pull the end through with tools, not with hands; keep a way round trapped "
    "melt."
)
CYLINDER = (
    "Melt under pressure spits and burns: purge with the nozzle clear, shield in place, face and hands protected, nobody in "
    "front; a blocked nozzle or trapped gas can let go at any time; never look into the hopper of a hot cylinder (guards as in "
    "ISO 20430).",
    "Barrel and nozzle burn at a touch: covers on, assess reachable surfaces by ISO 13732-1.",
    "Material that stays too long decomposes and gives off gas under pressure: lower the zones at stops, purge before and "
    "after; never acetal and PVC in one cylinder without a thorough purge between.",
)

# -- what reacts, and what it gives off --------------------------------------------------------------------------------------

REACTING = (
    "A reacting charge heats itself: a thick one can run away. Do not run a charge whose peak the run shows above its "
    "limit, and never stockpile preheated charges."
)
OPENING = (
    "Do not open the press on a hot charge that has not cured: it blisters, bursts and spits. Never stockpile preheated "
    "charges: a heap of them can run away outside the press."
)
PEROXIDE = (
    "Peroxides and monomers, where the material holds them: cool store, small amounts, never peroxide and accelerator together "
    "undiluted; vapour of styrene and acrylic monomer burns."
)
HIGH_FREQUENCY = (
    "Where the charge is preheated by high frequency: it burns inside the flesh and carries high voltage; screened and "
    "interlocked, no metal in the charge, people with pacemakers keep away (IEC 60519-1)."
)
FUME = "Heated plastics give off fume: local exhaust at the oven, more of it when a face comes near its upper limit."
LINE_FUME = "Heated coatings and melts give off fume: local exhaust at die, coating head, lamps and drum."
CURE_FUME = (
    "Curing resins give off fume (formaldehyde, phenol, ammonia, styrene): local exhaust at the press, exposure limits by "
    "law."
)
POST_BAKE = (
    "Post-baking gives off fume: exhaust the oven; ventilation so that vapour stays below a quarter of what ignites (NFPA "
    "86)."
)
PASTE = (
    "Hot formers in paste give off plasticiser fume and splash: exhaust over the bath, gloves and sleeves; keep water off hot "
    "formers before they are dipped."
)
OVEN_VAPOUR = (
    "Plasticiser and diluent evaporate in the oven: ventilate so that vapour stays below a quarter of what ignites (NFPA 86; EN "
    "1539 for coating ovens), and clean condensate out of ducts before it burns."
)
HYDROGEN_CHLORIDE = (
    "PVC above about 205 degC, or held too long, gives off hydrogen chloride: extraction, corrosion of the oven, never together "
    "with acetal; have an emergency purge."
)

# -- water -------------------------------------------------------------------------------------------------------------------

STEAM = (
    "Coolant at or above 100 degC is under pressure and flashes to steam where a hose fails: only a pressurised unit with its "
    "relief valve, hoses rated for it, let it cool and show that it is without pressure before a coupling is opened."
)
WATER = "Water beside drives, heaters and spark testers: earth-leakage protection, splash guards."
LEGIONELLA = (
    "Warm water breeds bacteria (legionella), and spray carries them: keep baths clean, cold or treated; no open spray."
)

OILS_AND_FUME = (
    "Hot rolls burn, and leaks of hot oil ignite: covers, assess reachable surfaces by ISO 13732-1; no open flame.",
    "Overheated PVC gives off hydrogen chloride: extraction, and never a compound of acetal on the same mill.",
)
