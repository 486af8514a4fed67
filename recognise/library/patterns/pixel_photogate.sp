* name: pixel_photogate
* title: photogate pixel
* what: charge gathers under a photogate and is transferred to a floating diffusion, which a follower reads
* group: pixel
* ports: vdd=supply vss=ground vrst=reference rst=reset row=row col=column pg=clock tg=transfer
* either: MRST
* joins: vrst=vdd
* flavours: n p
* alternatives: pixel_4t
* source: Fossum, IEEE Trans. Electron Devices 44 (1997) 1689
.subckt pixel_photogate vdd vss vrst rst row col pg tg
CPG pg ch 10f
MTX fd tg ch vss nmos W=1u L=1u
MRST vrst rst fd vss nmos W=1u L=1u
MSF vdd fd x vss nmos W=1u L=1u
MSEL x row col vss nmos W=1u L=1u
.ends
