# A link that carries no job belongs to the job that names its tracker. One that was taken off only after the sign-off counts; that is
# for changed-after-sign-off to say.
lap-a {"kind":"link","camera":"C1","tracker":"T1"}
lap-a {"kind":"job","job":"J1","trailer":"5312","tracker":"T1"}
lap-a {"kind":"sign-off","job":"J1"}
lap-a {"kind":"unlink","camera":"C1","tracker":"T1"}
---
not signed-without-link
+++
# A job that names no parts is judged by the links that carry it. Taken off before the sign-off: no link.
lap-a {"kind":"link","job":"J2","camera":"C2","tracker":"T2"}
lap-a {"kind":"unlink","camera":"C2","tracker":"T2"}
lap-a {"kind":"sign-off","job":"J2"}
---
signed-without-link J2 stop aware open facts=6,7
J2 says camera C2 was taken off tracker T2
+++
# Taken off at the same time elsewhere: the link is not live.
lap-a {"kind":"link","job":"J3","camera":"C3","tracker":"T3"}
lap-b saw lap-a
lap-b {"kind":"unlink","camera":"C3","tracker":"T3"}
lap-a {"kind":"sign-off","job":"J3"}
---
signed-without-link J3 stop unaware open facts=9,10
+++
# Stood down after all sign-offs.
lap-a {"kind":"stand-down","job":"J2","why":"trailer left"}
---
signed-without-link J2 stop aware cleared facts=6,7
+++
# Stood down by somebody who knew of only one of two sign-offs: given up all the same.
lap-a {"kind":"sign-off","job":"J4"}
lap-b {"kind":"sign-off","job":"J4"}
lap-a {"kind":"stand-down","job":"J4"}
---
signed-without-link J4 stop - cleared
+++
# A link that carries another job is not this one's, although it names the same tracker.
lap-c {"kind":"link","job":"J0","camera":"C5","tracker":"T5"}
lap-c {"kind":"job","job":"J5","trailer":"5315","tracker":"T5"}
lap-c {"kind":"sign-off","job":"J5"}
---
signed-without-link J5 stop - open
