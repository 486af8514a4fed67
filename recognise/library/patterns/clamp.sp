* name: clamp
* title: clamp behind a capacitor
* what: a switch sets the far side of a coupling capacitor to a level, so that only what changes after that goes on
* group: column
* ports: in=input cl=clock out=sense ref=reference vss=ground
* joins: ref=vss
* flavours: n p
* alternatives: sample_hold
* source: El Gamal and Eltoukhy, IEEE Circuits and Devices Magazine, 2005; common practice
.subckt clamp in cl out ref vss
CC in out 10f
MCL ref cl out vss nmos W=1u L=1u
.ends
