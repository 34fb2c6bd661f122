/* What a word does: a promise, another way of sharing, plants bought in. */
#include "remedy/in.h"
#include "stand/stand.h"

static void try_promise(const struct cot_need *n, struct cot_tries *out)
{
    if (!n->line->waiting) return;
    struct cot_try *t = cot_try_add(n, out, COT_REMEDY_PROMISE);
    if (!t) return;
    t->line = n->asked; /* what a what-if asks for is promised at once */
    t->change.line = &t->line;
    t->remedy.plants = n->line->wanted - n->line->promised;
    t->remedy.minutes = COT_MINUTES_ASK;
    t->remedy.managers_yes = true;
}

static void try_share(const struct cot_need *n, struct cot_tries *out)
{
    if (n->fill->share == COT_SHARE_PRORATA || n->line->promised <= n->line->handed) return;
    struct cot_try *t = cot_try_add(n, out, COT_REMEDY_SHARE);
    if (!t) return;
    t->change.other_share = true;
    t->change.share = COT_SHARE_PRORATA;
    t->remedy.minutes = COT_MINUTES_SHARE;
    t->remedy.managers_yes = true;
}

void cot_try_word(const struct cot_need *need, struct cot_tries *out)
{
    try_promise(need, out);
    try_share(need, out);
}

/* Plugs grow on as plants potted on do; where there is no time for it, or the crop's days are not known, only plants
 * fit to go will do. */
static int32_t plugs_by(const struct cot_need *n)
{
    int64_t days = n->crop ? cot_thing_int(n->crop, COT_F_TRAY_DAYS, 0) / 2 : 0;
    if (days > 0 && days < COT_POTTED_DAYS_LEAST) days = COT_POTTED_DAYS_LEAST;
    return n->last - days >= n->fill->on ? (int32_t)(n->last - days) : n->last;
}

/* Whoever sells them says how sure they are; here they are taken to come and to be fit to go. */
void cot_try_buying(const struct cot_need *n, struct cot_tries *out)
{
    struct cot_try *t = cot_try_add(n, out, COT_REMEDY_BUY_IN);
    if (!t) return;
    struct cot_stand *s = &t->batch;
    int64_t plants = n->unsure;
    *s = (struct cot_stand){
        .variety = n->asked.variety->id,
        .sown = n->fill->on,
        .ready = n->last,
        .past = n->last,
        .counted = COT_DAY_NONE,
        .cells = plants,
        .fixed = plants,
        .most = plants,
        .now_base = plants,
        .then_base = plants,
        .likely_today = plants,
        .likely = plants,
        .count_on = plants,
        .untreated = true,
        .organic = n->asked.organic,
    };
    if (n->format) s->format = n->format->id;
    if (n->asked.own_seed) s->owner = n->asked.farm->id;
    t->change.batch = s;
    t->remedy.variety = n->asked.variety;
    t->remedy.format = n->format;
    t->remedy.plants = plants;
    t->remedy.ready = n->last;
    t->remedy.by = plugs_by(n);
    t->remedy.guess = true;
    t->remedy.minutes = COT_MINUTES_BUY;
}
