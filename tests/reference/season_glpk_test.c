/* The plan of whole small books against an exact solver of mixed-integer programmes, GLPK (GNU Linear Programming Kit).
 * The programme is written from the book's facts by themselves: which days serve a line, where trays then stand. */
#include "cotyledger/core/season.h"
#include "../core/season.h"

#include <glpk.h>

#define ON 20834 /* 2027-01-16, a Saturday */
#define LINES 8
#define SPAN 160 /* days that anything stands on */
#define CASES 40 /* COT_SEASON_CASES says another number */

struct crop {
    int32_t ready, past, chamber;
};

struct house {
    struct season s;
    struct cot_id line[LINES], variety[LINES], lot[LINES];
    struct crop crop;
    int32_t date[LINES], early[LINES], late[LINES];
    int lines;
    int64_t bench, stove, hands;
};

static const char *const names[LINES] = {"First", "Second", "Third", "Fourth", "Fifth", "Sixth", "Seventh", "Eighth"};

static void add_place(struct season *s, const char *text, enum cot_place_sort sort, int64_t spots)
{
    make(s, COT_K_PLACE);
    name(s, COT_F_NAME, text);
    say(s, COT_F_SORT, sort);
    say(s, COT_F_SPOTS, spots);
    done(s);
}

static void build(struct house *h, struct dice *d)
{
    struct season *s = &h->s;
    season_new(s, 1);
    h->crop.ready = (int32_t)dice_int(d, 20, 42);
    h->crop.past = h->crop.ready + (int32_t)dice_int(d, 4, 14);
    h->crop.chamber = (int32_t)dice_int(d, 0, 4);
    start_crop(s, "Lettuce", h->crop.ready, h->crop.past);
    say(s, COT_F_CHAMBER_DAYS, h->crop.chamber);
    struct cot_id crop = *done(s), format = add_format(s, "128", 8, 16), farm = add_named(s, COT_K_FARM, "Ford");
    h->lines = (int)dice_int(d, 3, LINES);
    h->bench = dice_int(d, 14, 40);
    h->stove = dice_int(d, 6, 20);
    h->hands = dice_int(d, 6, 20);
    add_place(s, "bench", COT_PLACE_BENCH, h->bench);
    add_place(s, "chamber", COT_PLACE_CHAMBER, h->stove);
    make(s, COT_K_RULE);
    about(s, &s->row[0].digest);
    say(s, COT_F_TRAYS_A_DAY, h->hands);
    season_put(s, true, true);
    for (int i = 0; i < h->lines; i++) {
        int plants = (int)dice_int(d, 100, 600);
        h->variety[i] = add_variety(s, names[i], &crop);
        start_lot(s, names[i], &h->variety[i], 380);
        h->lot[i] = *done(s);
        h->date[i] = ON + 70 + (int32_t)dice_int(d, 0, 30);
        h->early[i] = (int32_t)dice_int(d, 0, 5);
        h->late[i] = (int32_t)dice_int(d, 0, 5);
        start_line(s, &farm, &h->variety[i], plants, h->date[i]);
        point(s, COT_F_FORMAT, &format);
        say(s, COT_F_EARLY, h->early[i]);
        say(s, COT_F_LATE, h->late[i]);
        h->line[i] = *done(s);
        promise(s, &h->line[i], &farm, plants);
    }
}

static bool worked(int32_t day)
{
    int year, week, weekday;
    cot_week_of(day, &year, &week, &weekday);
    return weekday <= 5;
}

static int line_of(const struct house *h, const struct cot_thing *t)
{
    for (int i = 0; i < h->lines; i++)
        if (cot_id_cmp(&h->line[i], &t->id) == 0) return i;
    ck_abort_msg("a line of no order");
    return 0;
}

/* Whether a sowing on the day gives line i its plants: people work then and when the stack comes up, they are ready no
 * later than will do and not past use before they can be collected. */
static bool serves(const struct house *h, int i, int32_t day)
{
    return day >= ON && worked(day) && worked(day + h->crop.chamber) &&
           day + h->crop.ready <= h->date[i] + h->late[i] && day + h->crop.past >= h->date[i] - h->early[i];
}

struct sowing {
    bool may[SPAN]; /* days from ON */
    int32_t until;  /* last collecting day of its lines */
    int64_t trays;
};

static void read_sowing(const struct house *h, const struct cot_season *p, uint32_t number, struct sowing *out)
{
    const struct cot_season_sowing *w = &p->sowing[number];
    *out = (struct sowing){.trays = w->trays};
    for (int32_t d = 0; d < SPAN; d++) out->may[d] = true;
    for (uint32_t k = 0; k < w->parts; k++) {
        int i = line_of(h, p->line[p->part[w->first_part + k].line].line);
        if (h->date[i] > out->until) out->until = h->date[i];
        for (int32_t d = 0; d < SPAN; d++) out->may[d] = out->may[d] && serves(h, i, ON + d);
    }
}

/* Spots that the sowing of day d takes on a day: in the chamber, or on the bench until its last line collects it. */
static int64_t in_chamber(const struct house *h, const struct sowing *s, int32_t d, int32_t on)
{
    return on >= d && on < d + h->crop.chamber ? s->trays : 0;
}

static int64_t on_bench(const struct house *h, const struct sowing *s, int32_t d, int32_t on)
{
    int32_t ready = d + h->crop.ready, until = s->until - ON > ready ? s->until - ON : ready;
    return on >= d + h->crop.chamber && on <= until ? s->trays : 0;
}

struct programme {
    glp_prob *p;
    int column[LINES * 2][SPAN], at[LINES * 2 * SPAN + 2];
    double value[LINES * 2 * SPAN + 2];
};

static void add_row(struct programme *g, const struct house *h, const struct sowing *s, uint32_t n, int32_t on,
                    int what, double most)
{
    int terms = 0, row = glp_add_rows(g->p, 1);
    for (uint32_t k = 0; k < n; k++)
        for (int32_t d = 0; d < SPAN; d++) {
            int64_t spots = what == 0   ? on_bench(h, &s[k], d, on)
                            : what == 1 ? in_chamber(h, &s[k], d, on)
                                        : (d == on ? s[k].trays : 0);
            if (!s[k].may[d] || spots == 0) continue;
            g->at[++terms] = g->column[k][d];
            g->value[terms] = (double)spots;
        }
    if (what == 0) { /* no more than z of the bench */
        g->at[++terms] = 1;
        g->value[terms] = -(double)h->bench;
        most = 0;
    }
    glp_set_row_bnds(g->p, row, GLP_UP, 0, most);
    glp_set_mat_row(g->p, row, terms, g->at, g->value);
}

/* The least peak that any days of these sowings have, parts in a million; -1: they cannot all fit. */
static int64_t optimum(const struct house *h, const struct sowing *s, uint32_t n)
{
    struct programme *g = calloc(1, sizeof *g);
    glp_iocp how;
    g->p = glp_create_prob();
    glp_set_obj_dir(g->p, GLP_MIN);
    glp_set_obj_coef(g->p, glp_add_cols(g->p, 1), 1);
    glp_set_col_bnds(g->p, 1, GLP_DB, 0, 1);
    for (uint32_t k = 0; k < n; k++) {
        int terms = 0, row = glp_add_rows(g->p, 1);
        for (int32_t d = 0; d < SPAN; d++) {
            if (!s[k].may[d]) continue;
            g->column[k][d] = glp_add_cols(g->p, 1);
            glp_set_col_kind(g->p, g->column[k][d], GLP_BV);
            g->at[++terms] = g->column[k][d];
            g->value[terms] = 1;
        }
        glp_set_row_bnds(g->p, row, GLP_FX, 1, 1);
        glp_set_mat_row(g->p, row, terms, g->at, g->value);
    }
    for (int32_t on = 0; on < SPAN; on++) {
        add_row(g, h, s, n, on, 0, 0);
        add_row(g, h, s, n, on, 1, (double)h->stove);
        add_row(g, h, s, n, on, 2, (double)h->hands);
    }
    glp_init_iocp(&how);
    how.presolve = GLP_ON;
    how.msg_lev = GLP_MSG_OFF;
    bool solved = glp_intopt(g->p, &how) == 0 && glp_mip_status(g->p) == GLP_OPT;
    int64_t peak = solved ? (int64_t)(glp_mip_obj_val(g->p) * 1e6 + 0.5) : -1;
    glp_delete_prob(g->p);
    free(g);
    return peak;
}

/* The plan's own days, held against the programme's rows: nothing overflows, every line's day serves it. */
static void check_days(const struct house *h, const struct cot_season *p, const struct sowing *s)
{
    for (int32_t on = 0; on < SPAN; on++) {
        int64_t bench = 0, stove = 0, hands = 0;
        for (uint32_t k = 0; k < p->sowing_count; k++) {
            if (p->sowing[k].day == COT_DAY_NONE) continue;
            int32_t d = p->sowing[k].day - ON;
            sure(d >= 0 && d < SPAN && s[k].may[d]);
            bench += on_bench(h, &s[k], d, on);
            stove += in_chamber(h, &s[k], d, on);
            hands += d == on ? s[k].trays : 0;
        }
        sure(bench <= h->bench && stove <= h->stove && hands <= h->hands);
    }
}

START_TEST(whole_books)
{
    struct dice d = dice_new("whole_books");
    const char *asked = getenv("COT_SEASON_CASES");
    int cases = asked ? atoi(asked) : CASES, held = 0, close = 0, gave_way = 0, missed = 0;
    int64_t worst = 0;
    static struct house h;
    glp_term_out(GLP_OFF);
    for (int round = 0; round < cases; round++) {
        struct cot_season p;
        struct sowing s[LINES * 2];
        memset(&h, 0, sizeof h);
        build(&h, &d);
        struct cot_book *b = season_book(&h.s, NULL);
        ck_assert_int_eq(cot_season_plan(b, &(struct cot_season_ask){.on = ON}, &p, NULL), COT_OK);
        sure(p.sowing_count <= LINES * 2);
        for (uint32_t k = 0; k < p.sowing_count; k++) read_sowing(&h, &p, k, &s[k]);
        check_days(&h, &p, s);
        int64_t best = optimum(&h, s, p.sowing_count);
        bool fits = true;
        for (uint32_t k = 0; k < p.sowing_count; k++) fits = fits && p.sowing[k].day != COT_DAY_NONE;
        if (!fits) { /* something had no room: nearly always there is no way for all of them */
            gave_way++;
            missed += best >= 0;
        } else {
            ck_assert_msg(best >= 0, "the plan fits and the solver says that nothing does");
            ck_assert_msg(p.peak >= best - 1 && p.bound <= best + 1, "peak %lld, best %lld, bound %lld",
                          (long long)p.peak, (long long)best, (long long)p.bound);
            held++;
            close += p.peak <= best + best / 20 + 1000000 / h.bench;
            if (p.peak - best > worst) worst = p.peak - best;
        }
        cot_season_free(&p);
        cot_book_free(b);
        season_free(&h.s);
    }
    printf("whole_books: %d fit, %d of them within 5 %% or a tray of the best, the worst %.2f points above; %d did not "
           "fit, "
           "%d of which could have\n",
           held, close, (double)worst / 1e4, gave_way, missed);
    ck_assert_int_gt(held, cases / 4);
    ck_assert_int_ge(100 * close, 95 * held);
    ck_assert_int_le(100 * missed, 5 * cases);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("reference/season_glpk");
    TCase *c = tcase_create("season_glpk");
    tcase_set_timeout(c, 600);
    tcase_add_test(c, whole_books);
    suite_add_tcase(s, c);
    return s;
}
