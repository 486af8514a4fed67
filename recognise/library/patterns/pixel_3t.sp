* name: pixel_3t
* title: three-transistor active pixel
* what: integrates the photocurrent on the photodiode itself, which a follower reads; the reset may be of either polarity, its drain the supply or a level of its own
* group: pixel
* ports: vdd=supply vss=ground vrst=reference rst=reset row=row col=column
* optional: DPD
* either: MRST
* joins: vrst=vdd
* flavours: n p
* alternatives: pixel_4t pixel_logarithmic
* source: Fossum, IEEE Trans. Electron Devices 44 (1997) 1689; El Gamal and Eltoukhy, IEEE Circuits and Devices Magazine, 2005
.subckt pixel_3t vdd vss vrst rst row col
MRST vrst rst pd vss nmos W=1u L=1u
MSF vdd pd x vss nmos W=1u L=1u
MSEL x row col vss nmos W=1u L=1u
DPD vss pd diode
.ends
