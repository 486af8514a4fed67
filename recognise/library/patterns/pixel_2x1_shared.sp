* name: pixel_2x1_shared
* title: two pixels that share a readout
* what: two photodiodes with transfer gates on one floating diffusion, with one reset, follower and select
* group: pixel
* ports: vdd=supply vss=ground vrst=reference rst=reset row=row col=column tg1=transfer tg2=transfer
* optional: DPD1 DPD2
* either: MRST
* joins: vrst=vdd
* flavours: n p
* alternatives: pixel_4t pixel_2x2_shared pixel_5t_drain
* source: sharing: Guidash, US 6,160,281
.subckt pixel_2x1_shared vdd vss vrst rst row col tg1 tg2
MTX1 fd tg1 ppd1 vss nmos W=1u L=1u
MTX2 fd tg2 ppd2 vss nmos W=1u L=1u
MRST vrst rst fd vss nmos W=1u L=1u
MSF vdd fd x vss nmos W=1u L=1u
MSEL x row col vss nmos W=1u L=1u
DPD1 vss ppd1 diode
DPD2 vss ppd2 diode
.ends
