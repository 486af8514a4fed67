* name: pixel_photogate_channel
* title: photogate pixel whose gate is a transistor
* what: as the photogate pixel; the photogate leads to a diffusion that nothing else touches
* group: pixel
* ports: vdd=supply vss=ground vrst=reference rst=reset row=row col=column pg=clock tg=transfer
* either: MRST
* joins: vrst=vdd
* flavours: n p
* alternatives: pixel_4t pixel_5t_memory
* source: Fossum, IEEE Trans. Electron Devices 44 (1997) 1689
.subckt pixel_photogate_channel vdd vss vrst rst row col pg tg
MPG well pg ch vss nmos W=1u L=1u
MTX fd tg ch vss nmos W=1u L=1u
MRST vrst rst fd vss nmos W=1u L=1u
MSF vdd fd x vss nmos W=1u L=1u
MSEL x row col vss nmos W=1u L=1u
.ends
