# Two signed jobs that have not seen each other: nobody speaks, and nothing is cleared by taking over.
lap-c {"kind":"job","job":"J4","trailer":"5314","wall":"plate","load":"empty"}
pair lap-c J4 C4 T4
checks lap-c J4 plate empty
lap-d saw lap-c
lap-d {"kind":"job","job":"J5","trailer":"5314","purpose":"prove"}
lap-d {"kind":"check","job":"J5","check":"doors-closed","ok":true}
proof lap-d J5 five
lap-d {"kind":"sign-off","job":"J5"}
lap-c {"kind":"sign-off","job":"J4"}
---
signed-without-proof J4 stop - open
5314 relied no
+++
# The same without a fault on either side.
fit lap-c J6 5315 C6 T6
lap-c {"kind":"sign-off","job":"J6"}
lap-d saw lap-c
lap-e saw lap-c
lap-d {"kind":"job","job":"J7","trailer":"5315","purpose":"prove"}
lap-d {"kind":"check","job":"J7","check":"doors-closed","ok":true}
proof lap-d J7 seven
lap-d {"kind":"sign-off","job":"J7"}
lap-e {"kind":"job","job":"J8","trailer":"5315","purpose":"prove"}
lap-e {"kind":"check","job":"J8","check":"doors-closed","ok":true}
proof lap-e J8 eight
lap-e {"kind":"sign-off","job":"J8"}
---
not signed-without-proof J7
not signed-without-proof J8
trailer-opened-twice 5315 ask unaware open
5315 relied ask
