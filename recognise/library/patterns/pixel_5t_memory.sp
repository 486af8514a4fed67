* name: pixel_5t_memory
* title: five-transistor pixel with shutter by a memory node
* what: two transfer gates in series: all pixels move their charge to a memory node together, and read it row by row
* group: pixel
* ports: vdd=supply vss=ground vrst=reference rst=reset row=row col=column tg1=transfer tg2=transfer
* optional: DPD DMEM
* either: MRST
* joins: vrst=vdd
* flavours: n p
* alternatives: pixel_4t pixel_5t_drain
* source: common practice for charge-domain global shutters (from memory)
.subckt pixel_5t_memory vdd vss vrst rst row col tg1 tg2
MTX1 ppd tg1 mem vss nmos W=1u L=1u
MTX2 mem tg2 fd vss nmos W=1u L=1u
MRST vrst rst fd vss nmos W=1u L=1u
MSF vdd fd x vss nmos W=1u L=1u
MSEL x row col vss nmos W=1u L=1u
DPD vss ppd diode
DMEM vss mem diode
.ends
