/* Every question that this program asks of the database. Each says the house itself; row-level security says it again.
 */
#include "conn.h"

#include <string.h>

#define OUTLINE "iitibb"
/* The rows of a feed: from the position asked for to the end of a page. Every table says so itself, lest one is read
 * whole. */
#define WITHIN(t) t ".position > $2 and " t ".position <= least($3, (select p from stop))"
#define STOP                                                                                                           \
    "with stop as (select coalesce((select min(s.position) from seal s where s.house = $1 and s.position >= $2 + "     \
    "$4), $3) as p) "

const struct cot_question_row cot_questions[COT_Q_COUNT] = {
    [COT_Q_BEGIN] = {"cot_begin", "begin", "", ""},
    [COT_Q_BEGIN_STILL] = {"cot_begin_still", "begin isolation level repeatable read, read only", "", ""},
    [COT_Q_REACH] =
        {"cot_reach",
         "select set_config('cot.house', $1, true), set_config('cot.farm', $2, true), "
         "set_config('statement_timeout', $3, true), set_config('lock_timeout', $3, true), "
         "set_config('idle_in_transaction_session_timeout', '60s', true), "
         "set_config('enable_seqscan', 'off', true), set_config('plan_cache_mode', 'force_generic_plan', true)",
         "ttt", "ttttttt"},
    [COT_Q_NARROW] = {"cot_narrow", "select set_config('cot.farm', $1, true)", "t", "t"},
    [COT_Q_COMMIT] = {"cot_commit", "commit", "", ""},
    [COT_Q_ROLLBACK] = {"cot_rollback", "rollback", "", ""},
    [COT_Q_HEAD] = {"cot_head", "select epoch, position, receipt, chain from house_head where house = $1", "b", "iiib"},
    [COT_Q_LOCK] = {"cot_lock", "select epoch, position, receipt, chain, number, journal from head_lock($1)", "t",
                    "iiibib"},
    [COT_Q_SECRET] = {"cot_secret", "select seed from house_secret where house = $1", "b", "b"},
    [COT_Q_FOUND] = {"cot_found", "select house_found($1)", "b", "v"},
    [COT_Q_EPOCH] = {"cot_epoch", "select house_restored()", "", "i"},
    [COT_Q_ADD_ROWS] = {"cot_add_rows",
                        "insert into ledger (house, position, receipt, device, number, scope, digest, chain, body) "
                        "select $1, $2 + u.n, $3, $4, $5 + u.n, u.scope, u.digest, u.chain, u.body "
                        "from unnest($6, $7, $8, $9) with ordinality as u (scope, digest, chain, body, n)",
                        "biitiBBBB", ""},
    [COT_Q_ADD_SEAL] = {"cot_add_seal", "insert into seal (house, position, first, seal) values ($1, $2, $3, $4)",
                        "biit", ""},
    [COT_Q_MOVE] = {"cot_move", "select head_move($1, $2, $3, $4)", "tiib", "v"},
    [COT_Q_ROWS] = {"cot_rows",
                    "select position, receipt, device, number, digest, chain, scope, body from ledger "
                    "where house = $1 and position > $2 and position <= $3 order by position limit $4",
                    "biii", OUTLINE "bb"},
    [COT_Q_FEED_WHOLE] =
        {"cot_feed_whole",
         STOP "select l.position, l.receipt, l.device, l.number, l.digest, l.chain, l.scope, l.body, s.seal, s.first "
              "from ledger l left join seal s on s.house = $1 and s.position = l.position and " WITHIN(
                  "s") " where l.house = $1 and " WITHIN("l") " order by l.position",
         "biii", OUTLINE "bbti"},
    [COT_Q_FEED_FARM] =
        {"cot_feed_farm",
         STOP "select o.position, o.receipt, o.device, o.number, o.digest, o.chain, l.scope, l.body, s.seal, s.first "
              "from ledger_outline($2, least($3, (select p from stop))) o "
              "left join ledger l on l.house = $1 and l.position = o.position and " WITHIN(
                  "l") " left join seal s on s.house = $1 and s.position = o.position and " WITHIN("s") " order by "
                                                                                                        "o.position",
         "biii", OUTLINE "bbti"},
    [COT_Q_NUMBERS] = {"cot_numbers",
                       "select position, receipt, device, number, digest, chain from ledger "
                       "where house = $1 and device = $2 and number between $3 and $4 order by number",
                       "btii", OUTLINE},
    [COT_Q_CHAIN] = {"cot_chain", "select chain from ledger_outline($1 - 1, $1)", "i", "b"},
    [COT_Q_DEVICE_HEADS] = {"cot_device_heads",
                            "select device, number, chain from device_head where house = $1 order by device", "b",
                            "tib"},
    [COT_Q_INVITATION] = {"cot_invitation", "select member, expires from invitation where house = $1 and hash = $2",
                          "bb", "bi"},
    [COT_Q_ADD_INVITATION] =
        {"cot_add_invitation",
         "insert into invitation (house, hash, member, expires) values ($1, $2, $3, $4) on conflict do nothing", "bbbi",
         ""},
    [COT_Q_JOINED] =
        {"cot_joined",
         "select key, device, position from joined where house = $1 and hash = $2 order by key <> $3, position limit 1",
         "bbb", "bti"},
    [COT_Q_JOINED_ALL] = {"cot_joined_all", "select key, device, position from joined where house = $1 order by device",
                          "b", "bti"},
    [COT_Q_ADD_JOINED] = {"cot_add_joined",
                          "insert into joined (house, hash, key, device, position) values ($1, $2, $3, $4, $5)",
                          "bbbti", ""},
    [COT_Q_HOUSES] = {"cot_houses", "select house from house_head order by house", "", "b"},
    [COT_Q_SCHEMA] = {"cot_schema", "select coalesce(max(step), 0)::bigint from schema_step", "", "i"},
    [COT_Q_SETTINGS] =
        {"cot_settings",
         "select current_setting('fsync'), current_setting('full_page_writes'), current_setting('synchronous_commit'), "
         "current_setting('synchronous_standby_names'), current_setting('server_version_num'), "
         "(select rolsuper or rolbypassrls from pg_catalog.pg_roles where rolname = current_user)",
         "", "ttttto"},
};

Oid cot_type_oid(char letter)
{
    switch (letter) {
    case 'i':
        return 20;
    case 'b':
        return 17;
    case 't':
        return 25;
    case 'o':
        return 16;
    case 'v':
        return 2278;
    case 'B':
        return 1001;
    default:
        return 0;
    }
}

void cot_bind_int(struct cot_bind *b, int64_t v)
{
    uint64_t u = (uint64_t)v;
    char *to = b->ints[b->n];
    for (int i = 7; i >= 0; i--, u >>= 8) to[i] = (char)(u & 0xff);
    b->value[b->n] = to;
    b->len[b->n++] = 8;
}

void cot_bind_bytes(struct cot_bind *b, const void *bytes, size_t len)
{
    b->value[b->n] = bytes;
    b->len[b->n++] = (int)len;
}

void cot_bind_text(struct cot_bind *b, const char *s)
{
    cot_bind_bytes(b, s, strlen(s));
}

static void put_int32(struct cot_buf *a, uint32_t v)
{
    uint8_t be[4] = {(uint8_t)(v >> 24), (uint8_t)(v >> 16), (uint8_t)(v >> 8), (uint8_t)v};
    cot_buf_put(a, be, sizeof be);
}

void cot_array_start(struct cot_buf *a, size_t n)
{
    put_int32(a, n ? 1 : 0); /* dimensions */
    put_int32(a, 0);         /* no nulls */
    put_int32(a, cot_type_oid('b'));
    if (!n) return;
    put_int32(a, (uint32_t)n);
    put_int32(a, 1); /* first index */
}

void cot_array_item(struct cot_buf *a, const void *bytes, size_t len)
{
    put_int32(a, (uint32_t)len);
    cot_buf_put(a, bytes, len);
}

int64_t cot_cell_int(const PGresult *r, int row, int col)
{
    const unsigned char *p = (const unsigned char *)PQgetvalue(r, row, col);
    if (PQgetlength(r, row, col) != 8) return 0;
    uint64_t v = 0;
    for (int i = 0; i < 8; i++) v = v << 8 | p[i];
    return (int64_t)v;
}

const char *cot_cell_bytes(const PGresult *r, int row, int col, size_t *len)
{
    *len = (size_t)PQgetlength(r, row, col);
    return PQgetisnull(r, row, col) ? NULL : PQgetvalue(r, row, col);
}

bool cot_cell_id(const PGresult *r, int row, int col, struct cot_id *out)
{
    size_t len;
    const char *p = cot_cell_bytes(r, row, col, &len);
    if (!p || len != sizeof out->b) return false;
    memcpy(out->b, p, len);
    return true;
}

bool cot_cell_tag(const PGresult *r, int row, int col, char out[static COT_TAG_MAX + 1])
{
    size_t len;
    const char *p = cot_cell_bytes(r, row, col, &len);
    if (!p || len < 1 || len > COT_TAG_MAX) return false;
    memcpy(out, p, len);
    out[len] = '\0';
    return true;
}
