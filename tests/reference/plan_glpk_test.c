/* Planning against an exact solver of mixed-integer programmes: GLPK (GNU Linear Programming Kit). */
#include "cotyledger/core/plan.h"

#include <glpk.h>
#include <stdlib.h>

#include "../core/seed.h"

#define DAYS 30
#define BATCHES 14
#define OPTIONS 6
#define RESOURCES 2

struct season {
    struct cot_level_ask ask;
    struct cot_resource resource[RESOURCES];
    int64_t room[RESOURCES][DAYS];
    struct cot_level_batch batch[BATCHES];
    struct cot_use use[BATCHES][2];
};

static void make(struct season *s, struct dice *d)
{
    int64_t bench = dice_int(d, 120, 300), seeder = dice_int(d, 25, 45);
    s->ask = (struct cot_level_ask){.days = DAYS, .resource = s->resource, .resources = RESOURCES, .batch = s->batch};
    s->ask.batches = (uint32_t)dice_int(d, 4, BATCHES);
    for (int r = 0; r < RESOURCES; r++) s->resource[r] = (struct cot_resource){s->room[r], r == 0};
    for (int i = 0; i < DAYS; i++) {
        s->room[0][i] = bench - (i < 12 ? 40 : 0);
        s->room[1][i] = seeder;
    }
    for (uint32_t i = 0; i < s->ask.batches; i++) {
        int32_t from = (int32_t)dice_int(d, 0, 14), n = (int32_t)dice_int(d, 1, OPTIONS);
        int64_t trays = dice_int(d, 3, 25);
        s->batch[i] =
            (struct cot_level_batch){.use = s->use[i], .uses = 2, .standing = -1, .plate = -1, .queue = i + 1};
        cot_dayset_range(&s->batch[i].days, from, from + n - 1);
        s->use[i][0] =
            (struct cot_use){0, (int32_t)dice_int(d, 0, 3), (int32_t)dice_int(d, 5, 12), 0, trays, NULL, NULL};
        if (dice_int(d, 0, 1)) {
            s->use[i][0].fixed = COT_USE_TO_DAY;
            s->use[i][0].to += from + n;
        }
        s->use[i][1] = (struct cot_use){1, 0, 1, 0, trays, NULL, NULL};
    }
}

/* Spots of a cell that batch i takes when it is sown on day d. */
static int64_t takes(const struct season *s, uint32_t i, int32_t d, uint32_t resource, int32_t on)
{
    int32_t day[BATCHES];
    int64_t use[DAYS];
    for (int k = 0; k < BATCHES; k++) day[k] = -1;
    day[i] = d;
    cot_level_use(&s->ask, day, resource, use);
    return use[on];
}

/* min z: one day for each batch, no room overflows, bench use <= z room. False: there is no such plan. */
static glp_prob *programme(const struct season *s, int column[BATCHES][DAYS])
{
    glp_prob *p = glp_create_prob();
    int at[BATCHES * OPTIONS + 2];
    double value[BATCHES * OPTIONS + 2];
    int z = glp_add_cols(p, 1);
    glp_set_obj_dir(p, GLP_MIN);
    glp_set_obj_coef(p, z, 1);
    glp_set_col_bnds(p, z, GLP_LO, 0, 0);
    for (uint32_t i = 0; i < s->ask.batches; i++) {
        int n = 0, row = glp_add_rows(p, 1);
        for (int32_t d = cot_dayset_next(&s->batch[i].days, 0); d >= 0; d = cot_dayset_next(&s->batch[i].days, d + 1)) {
            column[i][d] = glp_add_cols(p, 1);
            glp_set_col_kind(p, column[i][d], GLP_BV);
            at[++n] = column[i][d];
            value[n] = 1;
        }
        glp_set_row_bnds(p, row, GLP_FX, 1, 1);
        glp_set_mat_row(p, row, n, at, value);
    }
    for (uint32_t r = 0; r < RESOURCES; r++)
        for (int32_t on = 0; on < DAYS; on++)
            for (int by_share = 0; by_share <= (r == 0); by_share++) {
                int n = 0, row = glp_add_rows(p, 1);
                for (uint32_t i = 0; i < s->ask.batches; i++)
                    for (int32_t d = 0; d < DAYS; d++) {
                        if (!cot_dayset_have(&s->batch[i].days, d)) continue;
                        at[++n] = column[i][d];
                        value[n] = (double)takes(s, i, d, r, on);
                    }
                if (by_share) at[++n] = z, value[n] = -(double)s->room[r][on];
                glp_set_row_bnds(p, row, GLP_UP, 0, by_share ? 0 : (double)s->room[r][on]);
                glp_set_mat_row(p, row, n, at, value);
            }
    return p;
}

static bool solve(glp_prob *p)
{
    glp_iocp how;
    glp_init_iocp(&how);
    how.presolve = GLP_ON;
    how.msg_lev = GLP_MSG_OFF;
    int end = glp_intopt(p, &how);
    if (end == GLP_ENOPFS) return false;
    ck_assert_int_eq(end, 0);
    return glp_mip_status(p) == GLP_OPT;
}

/* The peak of the exact plan, in parts in a million, rounded up, from its days; -1: there is none. */
static int64_t optimum(const struct season *s)
{
    int column[BATCHES][DAYS] = {{0}};
    int32_t day[BATCHES];
    int64_t use[DAYS], peak = 0;
    glp_prob *p = programme(s, column);
    bool any = solve(p);
    for (uint32_t i = 0; any && i < s->ask.batches; i++)
        for (int32_t d = 0; d < DAYS; d++)
            if (column[i][d] && glp_mip_col_val(p, column[i][d]) > 0.5) day[i] = d;
    glp_delete_prob(p);
    if (!any) return -1;
    cot_level_use(&s->ask, day, 0, use);
    for (int d = 0; d < DAYS; d++) {
        int64_t share = (use[d] * 1000000 + s->room[0][d] - 1) / s->room[0][d];
        if (share > peak) peak = share;
    }
    return peak;
}

START_TEST(levelling)
{
    struct dice d = dice_new("levelling");
    int cases = 0, best = 0, none = 0, missed = 0;
    int64_t worst = 0;
    glp_term_out(GLP_OFF);
    for (int round = 0; round < 200; round++) {
        struct season s;
        int32_t day[BATCHES];
        struct cot_level got = {.day = day};
        make(&s, &d);
        void *space = malloc(cot_level_bytes(&s.ask));
        ck_assert_int_eq(cot_level_plan(&s.ask, space, &got, NULL), COT_OK);
        free(space);
        int64_t least = optimum(&s);
        sure(least >= 0 || got.gave_way > 0); /* no plan: something has to go */
        none += least < 0;
        missed += least >= 0 && got.gave_way;
        if (least < 0 || got.gave_way) continue;
        cases++;
        sure(got.bound <= least && least <= got.peak);
        best += got.peak == least;
        int64_t off = (got.peak - least) * 1000000 / least;
        if (off > worst) worst = off;
        sure(off <= got.gap);
    }
    printf("levelling: %d of %d best; the worst is %.2f %% above\n", best, cases, (double)worst / 10000);
    printf("levelling: no plan for all in %d, and one that was not found in %d\n", none, missed);
    ck_assert_int_le(missed, 5);
    ck_assert_int_ge(cases, 100);
    ck_assert_int_ge(best * 100, cases * 95);
    ck_assert_int_le(worst, 300000);
}
END_TEST

START_TEST(fewest_that_serve_all)
{
    struct dice d = dice_new("fewest_that_serve_all");
    for (int round = 0; round < 60; round++) {
        struct cot_dayset row[80] = {0};
        int32_t columns = (int32_t)dice_int(&d, 10, 40);
        uint32_t rows = (uint32_t)dice_int(&d, 20, 80);
        glp_prob *p = glp_create_prob();
        glp_set_obj_dir(p, GLP_MIN);
        glp_add_cols(p, columns);
        for (int c = 1; c <= columns; c++) {
            glp_set_obj_coef(p, c, 1);
            glp_set_col_kind(p, c, GLP_BV);
        }
        for (uint32_t i = 0; i < rows; i++) {
            int at[41], n = 0, r = glp_add_rows(p, 1);
            double value[41];
            for (int64_t k = dice_int(&d, 2, 6); k > 0; k--)
                cot_dayset_add(&row[i], (int32_t)dice_int(&d, 0, columns - 1));
            for (int32_t c = 0; c < columns; c++)
                if (cot_dayset_have(&row[i], c)) at[++n] = c + 1, value[n] = 1;
            glp_set_row_bnds(p, r, GLP_LO, 1, 0);
            glp_set_mat_row(p, r, n, at, value);
        }
        struct cot_hit h;
        void *space = malloc(cot_hit_bytes(rows));
        ck_assert_int_eq(cot_hit_all(row, rows, space, &h, NULL), COT_OK);
        free(space);
        sure(solve(p));
        int32_t least = (int32_t)(glp_mip_obj_val(p) + 0.5);
        glp_delete_prob(p);
        sure(h.proved && h.count == least);
    }
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("reference/plan_glpk");
    TCase *t = tcase_create("plan");
    tcase_set_timeout(t, 240);
    glp_term_out(GLP_OFF);
    tcase_add_test(t, levelling);
    tcase_add_test(t, fewest_that_serve_all);
    suite_add_tcase(s, t);
    return s;
}
