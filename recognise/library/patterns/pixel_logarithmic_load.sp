* name: pixel_logarithmic_load
* title: logarithmic pixel with the other diode
* what: as the logarithmic pixel, with a load of the other polarity whose gate is on the photodiode
* group: pixel
* ports: vdd=supply vss=ground row=row col=column
* optional: DPD
* flavours: n p
* alternatives: pixel_logarithmic pixel_3t
* source: Fossum, IEEE Trans. Electron Devices 44 (1997) 1689 for the principle; common practice
.subckt pixel_logarithmic_load vdd vss row col
MLOAD pd pd vdd vdd pmos W=1u L=1u
MSF vdd pd x vss nmos W=1u L=1u
MSEL x row col vss nmos W=1u L=1u
DPD vss pd diode
.ends
