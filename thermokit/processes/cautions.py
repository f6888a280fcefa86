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
SHEET = (RADIANT, HOT_SURFACE, CLAMP, FUME)
