# The settings were never live.
lap-a {"kind":"job","job":"J1","trailer":"5312","tracker":"T1","camera":"C1"}
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1"}
lap-a {"kind":"settings","tracker":"T1","camera":"C1","state":"asked"}
lap-a {"kind":"sign-off","job":"J1","by":"mara"}
---
signed-before-live J1 stop aware open facts=2,3,4
J1 next Do not rely on the camera
J1 says nothing says that the settings of tracker T1 were ever live: asked for or failed
not signed-without-link
+++
# They come live afterwards, and the recorder had seen the sign-off: still a stop.
lap-a {"kind":"settings","tracker":"T1","camera":"C1","state":"live"}
---
signed-before-live J1 stop aware open facts=2,3,4
+++
# Another laptop recorded them live without knowing of the sign-off, by its own clock. What was asked for before it is decided, so it stays
# a stop.
lap-b saw lap-a:3
lap-b {"kind":"settings","tracker":"T1","state":"live","by":"jonas"}
---
signed-before-live J1 stop aware open facts=2,3,4
+++
depot saw lap-a
depot saw lap-b
depot {"kind":"ruling","finding":"@signed-before-live:job:J1","ruling":"accepted","why":"server log says live at 08:04","by":"ines"}
---
signed-before-live J1 stop aware settled
+++
# Signed off again with the settings in view.
lap-a saw lap-b
lap-a {"kind":"sign-off","job":"J1","by":"mara","note":"again"}
---
signed-before-live J1 stop aware cleared facts=2,3,4
+++
# Nobody recorded that they were asked for, and another laptop recorded them live without knowing of the sign-off, by its own clock:
# nobody can tell.
lap-a {"kind":"link","job":"J2","camera":"C2","tracker":"T2"}
lap-c saw lap-a
lap-a {"kind":"sign-off","job":"J2","by":"mara"}
lap-c {"kind":"settings","tracker":"T2","state":"live","by":"jonas"}
---
signed-before-live J2 ask unaware open
J2 says it cannot be told
J2 next Compare with the server
