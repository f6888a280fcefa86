"""The usual cautions of the trade, and the text that defers to local codes and licensed practice."""

from __future__ import annotations

DEFERENCE = (
    "Starting values for a supervised trial. Electrical, pressure, fire, ventilation and guarding work is for licensed or "
    "competent persons under local codes. Product approval needs the tests in the product standard."
)
HOT = 333.15  # K, where a surface is to be assessed as hot; common practice, no source

RADIANT = (
    "Radiant panels set fire to a sheet that sags onto them or stays too long: keep the sheet clear of the lower panel, "
    "have panels retract or shut off when the line stops, and never leave a loaded oven."
)
HOT_SURFACE = "Hot metal and hot plastic burn the skin at once: gloves, sleeves, guards; assess reachable surfaces by ISO 13732-1."
CLAMP = "Clamp frames and moving tables pinch and crush: never reach in with the guards open or defeated."
FUME = "Heated plastics give off fume: local exhaust at the oven, more of it when a face comes near its upper limit."
REACTING = (
    "A reacting charge heats itself: a thick one can run away. Do not run a charge whose peak the run shows above its "
    "limit, and never stockpile preheated charges."
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
SAGGING_ON_ELEMENTS = (
    "Hot sheet that slips out of its frame falls on elements and burns: frame gripped all round, elements guarded by a mesh and "
    "switched off before a fallen sheet is fetched, extinguisher at hand."
)
SHEET = (RADIANT, HOT_SURFACE, CLAMP, FUME)
OPENING = (
    "Do not open the press on a hot charge that has not cured: it blisters, bursts and spits. Never stockpile preheated "
    "charges: a heap of them can run away outside the press."
)
PRESS = (
    "The press crushes: two-hand control and guards as in EN 289, never reach in, lock out before clearing; the mould burns "
    "at a touch."
)
POST_BAKE = (
    "Post-baking gives off fume: exhaust the oven; ventilation so that vapour stays below a quarter of what ignites."
)
CURE_FUME = (
    "Curing resins give off fume (formaldehyde, phenol, ammonia, styrene): local exhaust at the press, exposure limits by "
    "law."
)
CHARGE = (REACTING, OPENING, PRESS, HOT_SURFACE, CURE_FUME)
PASTE = (
    "Hot formers in paste give off plasticiser fume and splash: exhaust over the bath, gloves and sleeves; keep water off hot "
    "formers before they are dipped."
)
OVEN_VAPOUR = (
    "Plasticiser and diluent evaporate in the oven: ventilate so that vapour stays below a quarter of what ignites (EN 1539 is "
    "the basis for coating ovens), and clean condensate out of ducts before it burns."
)
HYDROGEN_CHLORIDE = (
    "PVC above about 205 degC, or held too long, gives off hydrogen chloride: extraction, corrosion of the oven, never together "
    "with acetal; have an emergency purge."
)
QUENCH = (
    "Water on metal above 100 degC flashes to steam: lower slowly, shield the face; warm quench water needs care against "
    "legionella."
)
MILL = (
    "The in-running nip of a mill draws hands in: emergency stop within reach and its stopping distance tested (EN 1417), no "
    "hand feeding near the nip, cut the band away from it.",
    "Hot rolls burn, and leaks of hot oil ignite; powder dust is combustible: extraction, no open flame.",
    "Overheated PVC gives off hydrogen chloride: extraction, and never a compound of acetal on the same mill.",
)
CYLINDER = (
    "Melt under pressure spits and burns: purge with the nozzle clear, shield in place, face and hands protected, nobody in "
    "front; a blocked nozzle or trapped gas can let go at any time; never look into the hopper of a hot cylinder (guards as in "
    "ISO 20430).",
    "Barrel and nozzle burn at a touch: covers on, assess reachable surfaces by ISO 13732-1.",
    "Material that stays too long decomposes and gives off gas under pressure: lower the zones at stops, purge before and "
    "after; never acetal and PVC in one cylinder without a thorough purge between.",
)
