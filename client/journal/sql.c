/* The questions asked of the journal. */
#include "journal/db.h"

#define OWN "select tag, number, clock, tick, digest, chain, coded, state, body from own "
#define ROW "select position, receipt, tag, number, digest, chain, body from ledger "
#define SEAL "select position, tag, first, last, jws from "

const char *const cot_journal_sql[COT_Q_COUNT] = {
    [COT_Q_IDENTITY] = "select house, house_key, tag, member, part, farm, url, pin, generation from identity",
    [COT_Q_SET_IDENTITY] = "insert or replace into identity values (1, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
    [COT_Q_WHERE] = "select epoch, position, ledger, sure, high, last_sync, stopped from place",
    [COT_Q_SET_WHERE] = "insert or replace into place values (1, ?, ?, ?, ?, ?, ?, ?)",

    [COT_Q_OWN_LAST] = OWN "where tag = ? order by number desc limit 1",
    [COT_Q_OWN_CODED] = "select count(*) from own where tag = ? and coded",
    [COT_Q_OWN_UNSENT] = "select clock, tick from own where tag = ? and state = 0 order by clock desc, tick desc",
    [COT_Q_APPEND] = "insert into own values (?, ?, ?, ?, ?, ?, ?, ?, ?)",
    [COT_Q_WALK_OWN] = OWN "where (?1 is null or tag = ?1) and (?2 < 0 or state = ?2) order by tag, number",
    [COT_Q_OWN_RANGE] = OWN "where tag = ? and number between ? and ? order by number",
    [COT_Q_OWN_DIGEST] = "select digest from own where tag = ? and number = ?",
    [COT_Q_OWN_MARK] = "update own set state = ?4 where tag = ?1 and number between ?2 and ?3 and state <> ?4",
    [COT_Q_OWN_CARRIED_OVER] = "update own set state = 2 where tag = ? and state = 0",
    [COT_Q_OWN_COUNT] = "select count(*) from own where state = ?",

    [COT_Q_PUT_ROW] = "insert into ledger values (?, ?, ?, ?, ?, ?, ?)",
    [COT_Q_WALK_LEDGER] = ROW "where position > ? order by position",
    [COT_Q_CHAIN_AT] = "select chain from ledger where position = ?",
    [COT_Q_LAST_NUMBER] = "select coalesce(max(number), 0) from ledger where tag = ? and position <= ?",
    [COT_Q_PUT_SEAL] = "insert or replace into seal values (?, ?, ?, ?, ?)",
    [COT_Q_SEAL_AT] = SEAL "seal where position = ?",
    [COT_Q_PUT_DEVICE] = "insert or replace into device values (?, ?, ?, ?)",
    [COT_Q_WALK_DEVICES] = "select tag, number, chain, key from device order by tag",
    [COT_Q_DROP_DEVICES] = "delete from device",

    [COT_Q_ASIDE_ROWS] = "insert or ignore into aside_row select tag, number, body from ledger where position > ?",
    [COT_Q_ASIDE_SEALS] =
        "insert or replace into aside_seal select position, tag, first, last, jws from seal where position > ?",
    [COT_Q_DROP_ROWS] = "delete from ledger where position > ?",
    [COT_Q_DROP_SEALS] = "delete from seal where position > ?",
    [COT_Q_WALK_ASIDE] = SEAL "aside_seal order by position",
    [COT_Q_LINE] = "select body from aside_row where tag = ?1 and number = ?2 and body is not null "
                   "union all select body from ledger where tag = ?1 and number = ?2 and body is not null limit 1",
    [COT_Q_ASIDE_ROWS_DONE] =
        "delete from aside_row where not exists "
        "(select 1 from aside_seal s where s.tag = aside_row.tag and number between s.first and s.last)",
    [COT_Q_ASIDE_SEALS_DONE] = "delete from aside_seal where position <= ?",

    [COT_Q_PUT_STATEMENT] = "insert or replace into statement values (?, ?, ?)",
    [COT_Q_STATEMENT] = "select on_day, jws from statement where form = ?",
};
