* name: pixel_logarithmic
* title: logarithmic pixel
* what: a transistor with its gate on its drain carries the photocurrent, below threshold, so that the voltage goes with its logarithm
* group: pixel
* ports: vdd=supply vss=ground row=row col=column
* optional: DPD
* flavours: n p
* alternatives: pixel_3t
* source: Fossum, IEEE Trans. Electron Devices 44 (1997) 1689; Kavadias et al., IEEE J. Solid-State Circuits 35 (2000) 1146
.subckt pixel_logarithmic vdd vss row col
MLOAD vdd vdd pd vss nmos W=1u L=1u
MSF vdd pd x vss nmos W=1u L=1u
MSEL x row col vss nmos W=1u L=1u
DPD vss pd diode
.ends
