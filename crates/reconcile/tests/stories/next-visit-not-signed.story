# A visit that is open, or was given up, takes nothing from the signed one; what it unlinked does.
fit lap-a J4 5314 C4 T4
lap-a {"kind":"sign-off","job":"J4"}
lap-a {"kind":"job","job":"J5","trailer":"5314","purpose":"prove"}
lap-a {"kind":"proof","job":"J5","state":"asked"}
---
nothing else
5314 relied yes
+++
lap-a {"kind":"stand-down","job":"J5","reason":"weather"}
lap-a {"kind":"job","job":"J6","trailer":"5314","purpose":"replace"}
---
nothing else
5314 relied yes
+++
lap-a {"kind":"unlink","job":"J6","camera":"C4","tracker":"T4"}
lap-a {"kind":"stand-down","job":"J6","reason":"part-missing"}
---
changed-after-sign-off J4 ask aware open
5314 relied ask
+++
# A link without a job belongs to the job of its tracker; settings that name another camera do not count for it.
lap-a {"kind":"job","job":"J7","trailer":"5315","tracker":"T7"}
lap-a {"kind":"link","camera":"C7","tracker":"t-7"}
lap-a {"kind":"settings","tracker":"T7","camera":"C8","state":"live"}
lap-a {"kind":"sign-off","job":"J7"}
---
signed-before-live J7 stop - open
not signed-without-link J7
