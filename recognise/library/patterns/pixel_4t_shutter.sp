* name: pixel_4t_shutter
* title: three-transistor pixel with sampling shutter
* what: a shutter transistor between photodiode and follower samples all pixels at one time; the photodiode is reset
* group: pixel
* ports: vdd=supply vss=ground vrst=reference rst=reset row=row col=column sh=transfer
* optional: DPD CS
* either: MRST
* joins: vrst=vdd
* flavours: n p
* alternatives: pixel_4t pixel_3t
* source: El Gamal and Eltoukhy, IEEE Circuits and Devices Magazine, 2005; common practice
.subckt pixel_4t_shutter vdd vss vrst rst row col sh
MRST vrst rst pd vss nmos W=1u L=1u
MSH pd sh sn vss nmos W=1u L=1u
MSF vdd sn x vss nmos W=1u L=1u
MSEL x row col vss nmos W=1u L=1u
DPD vss pd diode
CS sn vss 10f
.ends
