* name: pixel_ctia
* title: capacitive-feedback (charge amplifier) pixel
* what: an amplifier holds the photodiode at one level and integrates its current on a feedback capacitor
* group: pixel
* ports: vdd=supply vss=ground vb=bias rst=reset row=row col=column
* optional: DPD
* either: MRST MSEL
* flavours: n p
* alternatives: column_amplifier
* source: US 7,199,828; Fowler et al., SPIE 3965 (2000)
.subckt pixel_ctia vdd vss vb rst row col
MN out in vss vss nmos W=1u L=1u
MLOAD out vb vdd vdd pmos W=1u L=1u
CF in out 10f
MRST out rst in vss nmos W=1u L=1u
MSEL out row col vss nmos W=1u L=1u
DPD vss in diode
.ends
