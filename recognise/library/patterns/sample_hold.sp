* name: sample_hold
* title: sample and hold
* what: a switch lays a level on a capacitor
* group: column
* ports: in=input sh=clock out=sense ref=reference vss=ground
* joins: ref=vss
* flavours: n p
* alternatives: clamp dram_1t1c
* source: Fossum, IEEE Trans. Electron Devices 44 (1997) 1689; common practice
.subckt sample_hold in sh out ref vss
MS in sh out vss nmos W=1u L=1u
CH out ref 10f
.ends
