* name: row_driver
* title: row driver
* what: an inverter that drives a row of pixels
* group: row
* ports: vdd=supply vss=ground in=input row=row col=column pd=sense vpix=supply
* context: MSEL MSF
* joins: vpix=vdd
* flavours: n p
* alternatives: inverter
* source: Fossum, IEEE Trans. Electron Devices 44 (1997) 1689; common practice
.subckt row_driver vdd vss in row col pd vpix
MP row in vdd vdd pmos W=1u L=1u
MN row in vss vss nmos W=1u L=1u
MSEL x row col vss nmos W=1u L=1u
MSF vpix pd x vss nmos W=1u L=1u
.ends
