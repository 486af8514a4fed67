* name: pixel_2x2_shared_no_select
* title: four pixels that share a readout without select
* what: as the shared pixel of four, but a row is chosen by the level of the reset drain
* group: pixel
* ports: vdd=supply vss=ground vrst=reference rst=reset col=column tg1=transfer tg2=transfer tg3=transfer tg4=transfer
* optional: DPD1 DPD2 DPD3 DPD4
* either: MRST
* joins: vrst=vdd
* flavours: n p
* alternatives: pixel_2x2_shared
* source: Takahashi et al., IEEE J. Solid-State Circuits 39 (2004) 2417
.subckt pixel_2x2_shared_no_select vdd vss vrst rst col tg1 tg2 tg3 tg4
MTX1 fd tg1 ppd1 vss nmos W=1u L=1u
MTX2 fd tg2 ppd2 vss nmos W=1u L=1u
MTX3 fd tg3 ppd3 vss nmos W=1u L=1u
MTX4 fd tg4 ppd4 vss nmos W=1u L=1u
MRST vrst rst fd vss nmos W=1u L=1u
MSF vdd fd col vss nmos W=1u L=1u
DPD1 vss ppd1 diode
DPD2 vss ppd2 diode
DPD3 vss ppd3 diode
DPD4 vss ppd4 diode
.ends
