* name: pixel_passive
* title: passive pixel
* what: one switch joins the photodiode to the column, where an amplifier takes its charge
* group: pixel
* ports: vss=ground row=row col=column vdd=supply
* flavours: n p
* alternatives: pixel_3t
* source: Weckler, IEEE J. Solid-State Circuits 2 (1967) 65
.subckt pixel_passive vss row col vdd
MSEL col row pd vss nmos W=1u L=1u
DPD vss pd diode
.ends
