-- The ledger: facts of every house, in the server's order. Everything else the server knows is read from it;
-- the other tables hold heads, seals, secrets and caches.
--
-- Runs as the owner. The run-time role cotyledger_run owns nothing: it has SELECT and INSERT on the ledger, and moves heads
-- through one function. Row-level security repeats below the program that no house sees another.

create table ledger (
    house    bytea  not null check (octet_length(house) = 16),
    position bigint not null check (position > 0),
    receipt  bigint not null,
    device   text collate "C" not null check (device ~ '^[A-Z]{1,4}$'),
    number   bigint not null check (number > 0),
    scope    bytea  not null check (octet_length(scope) in (1, 32)), -- 'H' house, 'C' catalogue, else the farm's identity
    digest   bytea  not null check (octet_length(digest) = 32),
    chain    bytea  not null check (octet_length(chain) = 32),
    body     bytea  not null check (octet_length(body) <= 16384),
    primary key (house, position),
    unique (house, device, number)
);

-- Pages as they were sealed: the seal of the page whose last row is at `position`.
create table seal (
    house    bytea  not null,
    position bigint not null,
    first    bigint not null, -- position of the first row that this page added
    seal     text   not null,
    primary key (house, position)
);

-- A head moves with each page. `secret` tables hold what must never be in the ledger.
create table house_head (
    house    bytea  primary key,
    epoch    bigint not null default 1,
    position bigint not null default 0,
    receipt  bigint not null default 0,
    chain    bytea  not null
);
create table device_head (
    house  bytea  not null,
    device text collate "C" not null,
    number bigint not null,
    chain  bytea  not null,
    primary key (house, device)
);
create table house_secret (
    house bytea primary key,
    seed  bytea not null check (octet_length(seed) = 32)
);
create table invitation (
    house   bytea  not null,
    hash    bytea  not null check (octet_length(hash) = 32),
    member  bytea  not null,
    expires bigint not null, -- ms
    used_by text,            -- the tag it became
    key     bytea,           -- and its key: a repeated join with it gets the same answer
    primary key (house, hash)
);
