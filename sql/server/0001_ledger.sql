-- The ledger: facts of every house, in the server's order. Everything else the server knows is read from it;
-- the other tables hold heads, seals, secrets and caches.
--
-- Runs as the owner. The run-time role cotyledger_run owns nothing: it has SELECT and INSERT on what only grows, and moves
-- heads through one function. Row-level security repeats below the program that no house sees another and that a buyer sees
-- its own farm: each transaction says whose it is in two settings,
--   cot.house  the house, 32 hexadecimal digits; absent: no row is seen
--   cot.farm   '*' for the whole house, or a farm's identity, 64 hexadecimal digits; absent: no row is seen

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

-- A head moves with each page.
create table house_head (
    house    bytea  primary key check (octet_length(house) = 16),
    epoch    bigint not null default 1,
    position bigint not null default 0,
    receipt  bigint not null default 0,
    chain    bytea  not null check (octet_length(chain) = 32)
);
create table device_head (
    house  bytea  not null,
    device text collate "C" not null,
    number bigint not null,
    chain  bytea  not null check (octet_length(chain) = 32),
    primary key (house, device)
);

-- What must never be in the ledger.
create table house_secret (
    house bytea primary key,
    seed  bytea not null check (octet_length(seed) = 32)
);
create table invitation (
    house   bytea  not null,
    hash    bytea  not null check (octet_length(hash) = 32),
    member  bytea  not null check (octet_length(member) = 32),
    expires bigint not null, -- ms
    primary key (house, hash)
);
-- Joins that were made: a repeated join with the same proof gets the same answer.
create table joined (
    house    bytea  not null,
    hash     bytea  not null check (octet_length(hash) = 32),
    key      bytea  not null check (octet_length(key) = 32),
    device   text collate "C" not null,
    position bigint not null, -- of the device's entry
    primary key (house, hash, key),
    unique (house, device)
);

-- Whose transaction this is. Bodies in this form are read once, here, whatever names a session has later; and they are put into
-- the statements that use them.
create function cot_house() returns bytea language sql stable parallel safe
    return decode(nullif(current_setting('cot.house', true), ''), 'hex');
create function cot_whole() returns boolean language sql stable parallel safe
    return coalesce(current_setting('cot.farm', true) = '*', false);
create function cot_farm() returns bytea language sql stable parallel safe
    return case when current_setting('cot.farm', true) ~ '^[0-9a-f]{64}$' then decode(current_setting('cot.farm', true), 'hex') end;

-- The sub-selects make each of these one look at the setting a statement, not one a row.
alter table ledger enable row level security, force row level security;
create policy run_reads on ledger for select to cotyledger_run
    using (house = (select cot_house())
           and ((select cot_whole()) or ((select cot_farm()) is not null and scope in ('\x43'::bytea, (select cot_farm())))));
create policy run_adds on ledger for insert to cotyledger_run
    with check (house = (select cot_house()) and ((select cot_whole()) or scope = (select cot_farm())));
create policy owner_reads on ledger for select to cotyledger_owner using (house = (select cot_house()));

-- Seals and heads hold digests and signatures only: a buyer needs them to verify its holes.
alter table seal enable row level security, force row level security;
create policy run_reads on seal for select to cotyledger_run using (house = (select cot_house()));
create policy run_adds on seal for insert to cotyledger_run with check (house = (select cot_house()));
create policy owner_reads on seal for select to cotyledger_owner using (house = (select cot_house()));

alter table house_head enable row level security, force row level security;
create policy run_reads on house_head for select to cotyledger_run using (house = (select cot_house()));
create policy owner_reads on house_head for select to cotyledger_owner using (true); -- lists the houses
create policy owner_adds on house_head for insert to cotyledger_owner with check (house = (select cot_house()));
create policy owner_moves on house_head for update to cotyledger_owner using (house = (select cot_house()));

alter table device_head enable row level security, force row level security;
create policy run_reads on device_head for select to cotyledger_run using (house = (select cot_house()));
create policy owner_moves on device_head for all to cotyledger_owner using (house = (select cot_house()));

alter table house_secret enable row level security, force row level security;
create policy run_reads on house_secret for select to cotyledger_run using (house = (select cot_house()) and (select cot_whole()));
create policy owner_adds on house_secret for insert to cotyledger_owner with check (house = (select cot_house()));

alter table invitation enable row level security, force row level security;
create policy run_reads on invitation for select to cotyledger_run using (house = (select cot_house()) and (select cot_whole()));
create policy run_adds on invitation for insert to cotyledger_run with check (house = (select cot_house()) and (select cot_whole()));

alter table joined enable row level security, force row level security;
create policy run_reads on joined for select to cotyledger_run using (house = (select cot_house()) and (select cot_whole()));
create policy run_adds on joined for insert to cotyledger_run with check (house = (select cot_house()) and (select cot_whole()));

-- Locks the house until the transaction ends, and gives its head and the head of one device (number 0, no chain: none yet).
create function head_lock(in_device text, out epoch bigint, out "position" bigint, out receipt bigint, out chain bytea,
                          out number bigint, out journal bytea)
    returns setof record language plpgsql security definer rows 1 set search_path = pg_catalog, public, pg_temp
as $$
begin
    select h.epoch, h.position, h.receipt, h.chain into epoch, "position", receipt, chain
        from house_head h where h.house = cot_house() for update;
    if not found then return; end if;
    -- Only now, in a snapshot that comes after the lock.
    select d.number, d.chain into number, journal from device_head d where d.house = cot_house() and d.device = in_device;
    number := coalesce(number, 0);
    return next;
end $$;

-- Moves both heads to the rows just added; refuses unless they are all there, without a gap, of one device.
create function head_move(in_device text, in_position bigint, in_number bigint, in_journal bytea)
    returns void language plpgsql security definer set search_path = pg_catalog, public, pg_temp
as $$
declare
    whose bytea := cot_house();
begin
    update house_head h set position = in_position, receipt = last.receipt, chain = last.chain
        from ledger last
        where h.house = whose and h.position < in_position
          and last.house = whose and last.position = in_position and last.receipt >= h.receipt
          and in_position - h.position = in_number
              - coalesce((select d.number from device_head d where d.house = whose and d.device = in_device), 0)
          and in_position - h.position = (
              -- Device and number in a filter: as conditions they could make the plan read all that the device ever wrote.
              select count(*) filter (where l.device = in_device and l.number = in_number - in_position + l.position)
              from ledger l
              where l.house = whose and l.position > h.position and l.position <= in_position);
    if not found then
        raise exception 'head of device % cannot move to %', in_device, in_number using errcode = 'integrity_constraint_violation';
    end if;
    insert into device_head (house, device, number, chain) values (whose, in_device, in_number, in_journal)
        on conflict (house, device) do update set number = excluded.number, chain = excluded.chain;
end $$;

-- The rows of a house without what they say: what everybody of the house may see of everything.
create function ledger_outline(in_after bigint, in_upto bigint)
    returns table ("position" bigint, receipt bigint, device text, number bigint, digest bytea, chain bytea)
    language plpgsql stable security definer set search_path = pg_catalog, public, pg_temp
as $$
begin
    return query select l.position, l.receipt, l.device, l.number, l.digest, l.chain from ledger l
        where l.house = cot_house() and l.position > in_after and l.position <= in_upto;
end $$;

-- Founds a house: its secret and an empty head.
create function house_found(in_seed bytea) returns void
    language plpgsql security definer set search_path = pg_catalog, public, pg_temp
as $$
begin
    insert into house_head (house, chain) values (cot_house(), sha256('cotyledger ledger v1'::bytea || cot_house()));
    insert into house_secret (house, seed) values (cot_house(), in_seed);
end $$;

-- After a restore from a backup the ledger may lack what was acknowledged: a new epoch tells every client to look again.
create function house_restored() returns bigint
    language sql security definer set search_path = pg_catalog, public, pg_temp
as $$ update house_head h set epoch = h.epoch + 1 where h.house = cot_house() returning h.epoch $$;

revoke all on function head_lock(text), head_move(text, bigint, bigint, bytea), ledger_outline(bigint, bigint),
    house_found(bytea), house_restored() from public;
grant execute on function head_lock(text), head_move(text, bigint, bigint, bytea), ledger_outline(bigint, bigint),
    house_found(bytea) to cotyledger_run;
grant select, insert on ledger, seal, invitation, joined to cotyledger_run;
grant select on house_head, device_head, house_secret to cotyledger_run;
