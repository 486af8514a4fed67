* name: pixel_4t
* title: four-transistor pixel with transfer gate
* what: a transfer gate moves the charge of a pinned photodiode to a floating diffusion, which a follower reads
* group: pixel
* ports: vdd=supply vss=ground vrst=reference rst=reset row=row col=column tg=transfer
* optional: DPD
* either: MRST
* joins: vrst=vdd
* flavours: n p
* alternatives: pixel_3t pixel_4t_shutter
* source: El Gamal and Eltoukhy, IEEE Circuits and Devices Magazine, 2005; Fossum and Hondongwa, IEEE J. Electron Devices Soc. 2 (2014) 33
.subckt pixel_4t vdd vss vrst rst row col tg
MTX fd tg ppd vss nmos W=1u L=1u
MRST vrst rst fd vss nmos W=1u L=1u
MSF vdd fd x vss nmos W=1u L=1u
MSEL x row col vss nmos W=1u L=1u
DPD vss ppd diode
.ends
