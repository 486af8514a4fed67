* name: cds_pair
* title: correlated double sampling
* what: two samples of one column, of its reset and of its signal, for their difference
* group: column
* ports: col=column shr=clock shs=clock r=sense s=sense ref=reference vss=ground
* joins: ref=vss
* flavours: n p
* alternatives: sample_hold
* source: Fossum, IEEE Trans. Electron Devices 44 (1997) 1689
.subckt cds_pair col shr shs r s ref vss
MSR col shr r vss nmos W=1u L=1u
CR r ref 10f
MSS col shs s vss nmos W=1u L=1u
CS s ref 10f
.ends
