-- The journal of one laptop: what it wrote, what it fetched, who it is.
-- `own` and `ledger` hold exact bytes; `device` and the figures of `place` can be read from them again.

create table identity (
    one        integer primary key check (one = 1),
    house      blob not null check (length(house) = 16),
    house_key  blob not null check (length(house_key) = 32),
    tag        text not null,
    member     blob not null check (length(member) = 32),
    part       integer not null,
    farm       blob not null check (length(farm) = 32), -- zeros but for buyers
    url        text not null,
    pin        blob check (length(pin) = 32),
    generation integer not null                         -- number of the key file
) strict;

create table place (
    one       integer primary key check (one = 1),
    epoch     integer not null,
    position  integer not null,
    ledger    blob not null check (length(ledger) = 32),
    sure      integer not null, -- the last position that a signed head has confirmed
    high      integer not null, -- highest min(clock, receipt), ms
    last_sync integer not null, -- ms; 0: never
    stopped   integer not null  -- 0 moving, 1 fork, 2 closed
) strict;

create table own (
    tag    text not null,
    number integer not null check (number > 0),
    clock  integer not null,
    tick   integer not null,
    digest blob not null check (length(digest) = 32),
    chain  blob not null check (length(chain) = 32),
    coded  integer not null check (coded in (0, 1)),
    state  integer not null check (state in (0, 1, 2)), -- 0 unsent, 1 sent, 2 carried under a later tag
    body   blob not null,
    primary key (tag, number)
) strict, without rowid;

create table ledger (
    position integer primary key check (position > 0),
    receipt  integer not null,
    tag      text not null,
    number   integer not null check (number > 0),
    digest   blob not null check (length(digest) = 32),
    chain    blob not null check (length(chain) = 32), -- the ledger's, at this position
    body     blob                                      -- null: a row that this member may not see
) strict;
create unique index ledger_number on ledger (tag, number);

create table seal (
    position integer primary key, -- of the last row that it covers
    tag      text not null,
    first    integer not null,
    last     integer not null,
    jws      text not null
) strict;

create table device (
    tag    text primary key,
    number integer not null,
    chain  blob not null check (length(chain) = 32),
    key    blob check (length(key) = 32)
) strict, without rowid;

create table statement (
    form     text primary key,
    on_day   integer not null,
    jws      text not null
) strict;
