* name: mirror_wide_swing
* title: wide-swing cascode current mirror
* what: a cascode mirror whose cascodes are biased from elsewhere, so that the output may go lower
* group: analog
* ports: vss=ground vdd=supply in=input vb=bias out=output
* shared: M1 M3
* flavours: n p
* alternatives: mirror_cascode
* source: Razavi, Design of Analog CMOS Integrated Circuits (from memory)
.subckt mirror_wide_swing vss vdd in vb out
M1 n1 in vss vss nmos W=1u L=1u
M2 m in vss vss nmos W=1u L=1u
M3 in vb n1 vss nmos W=1u L=1u
M4 out vb m vss nmos W=1u L=1u
.ends
