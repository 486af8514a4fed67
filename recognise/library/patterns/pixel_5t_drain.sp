* name: pixel_5t_drain
* title: five-transistor pixel with shutter by photodiode reset
* what: a fifth transistor empties the photodiode, so that all pixels begin together; it also drains what blooms
* group: pixel
* ports: vdd=supply vss=ground vrst=reference rst=reset row=row col=column tg=transfer vab=reference gr=reset
* optional: DPD
* either: MRST MGR
* joins: vrst=vdd vab=vdd vab=vrst
* flavours: n p
* alternatives: pixel_4t pixel_2x1_shared pixel_5t_memory
* source: US 6,566,697; Takayanagi et al., Int. Image Sensor Workshop 2007
.subckt pixel_5t_drain vdd vss vrst rst row col tg vab gr
MGR vab gr ppd vss nmos W=1u L=1u
MTX fd tg ppd vss nmos W=1u L=1u
MRST vrst rst fd vss nmos W=1u L=1u
MSF vdd fd x vss nmos W=1u L=1u
MSEL x row col vss nmos W=1u L=1u
DPD vss ppd diode
.ends
