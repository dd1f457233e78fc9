# Judged good, signed; then an audit judges the picture not good.
fit lap-a J1 5312 C1 T1
lap-a {"kind":"sign-off","job":"J1","by":"mara"}
---
5312 relied yes
+++
depot saw lap-a
depot {"kind":"proof","job":"J1","state":"judged","ok":false,"by":"ida","note":"jagged edge"}
---
failed-after-sign-off J1 stop aware open jobs=J1
not signed-without-proof
5312 relied no
+++
# Signed again by somebody who has not seen that; then by somebody who has, with a new picture.
lap-a {"kind":"sign-off","job":"J1","by":"mara","note":"blind"}
---
failed-after-sign-off J1 stop unaware open
+++
lap-a saw depot
proof lap-a J1 second
lap-a {"kind":"sign-off","job":"J1","by":"mara","note":"again"}
---
failed-after-sign-off J1 stop unaware cleared
5312 relied yes
