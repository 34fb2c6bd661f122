-- After the server was restored from a backup: rows that it lost, kept until they have been sent again.

create table aside_row (
    tag    text not null,
    number integer not null,
    body   blob,
    primary key (tag, number)
) strict, without rowid;

create table aside_seal (
    position integer primary key, -- in the ledger that was lost
    tag      text not null,
    first    integer not null,
    last     integer not null,
    jws      text not null
) strict;

create index own_unsent on own (tag, number) where state = 0;
