* name: column_load
* title: current-source load of a column
* what: draws the current of the follower that is selected
* group: column
* ports: vss=ground vdd=supply vb=bias col=column row=row pd=sense
* context: MSEL MSF
* flavours: n p
* source: Fossum, IEEE Trans. Electron Devices 44 (1997) 1689
.subckt column_load vss vdd vb col row pd
MLOAD col vb vss vss nmos W=1u L=1u
MSEL x row col vss nmos W=1u L=1u
MSF vdd pd x vss nmos W=1u L=1u
.ends
