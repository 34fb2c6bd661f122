/* Sharing against a linear program solver (GLPK): the levels of pro rata one after the other, and by queue the most
 * that the first so many claims can have together. COT_SOLVER_CASES: how many cases. */
#include <glpk.h>
#include <math.h>

#include "fill/share_inside.h"
#include "../core/seed.h"

#define LINES 300
#define BATCHES 60

struct instance {
    uint32_t lines, batches, edges;
    struct cot_edge edge[LINES * 8];
    struct cot_wish wish[LINES];
    struct cot_claim claim[LINES];
    int64_t supply[BATCHES];
    struct cot_sharing s;
};

static void draw(struct dice *d, struct instance *x, enum cot_share_rule rule)
{
    *x = (struct instance){0};
    x->batches = (uint32_t)dice_int(d, 1, BATCHES);
    x->lines = (uint32_t)dice_int(d, 1, dice_int(d, 0, 3) ? 80 : LINES);
    int64_t wanted = 0, share = dice_int(d, 60, 110);
    for (uint32_t l = 0; l < x->lines; l++) {
        uint32_t from = (uint32_t)dice_int(d, 0, x->batches - 1), n = (uint32_t)dice_int(d, 1, 7);
        for (uint32_t b = from; b < x->batches && b < from + n; b++)
            if (b == from || dice_int(d, 0, 3) > 0) x->edge[x->edges++] = (struct cot_edge){l, b, false};
        x->wish[l] = (struct cot_wish){.line = l, .need = dice_int(d, 1, 400), .unit = 1};
        if (dice_int(d, 0, 3) == 0) x->wish[l].handed = dice_int(d, 0, 200);
        x->claim[l] = (struct cot_claim){l, x->wish[l].need};
        wanted += x->wish[l].need;
    }
    for (uint32_t b = 0; b < x->batches; b++) x->supply[b] = dice_int(d, 0, 2 * wanted * share / 100 / x->batches);
    x->s = (struct cot_sharing){
        .net = {.lines = x->lines, .batches = x->batches, .edges = x->edges, .edge = x->edge},
        .rule = rule,
        .wishes = x->lines,
        .claims = x->lines,
        .wish = x->wish,
        .claim = x->claim,
    };
    sure(cot_net_start(&x->s.net) == COT_OK && cot_sharing_start(&x->s) == COT_OK);
    cot_share(&x->s, x->supply);
}

static void drop(struct instance *x)
{
    cot_sharing_free(&x->s);
    cot_net_free(&x->s.net);
}

/* Rows: batches, then lines; columns: edges, then (column edges + 1) the level, with -promised in the lines' rows. */
static glp_prob *program(const struct instance *x, bool with_level)
{
    static int row[LINES * 20 + 1], column[LINES * 20 + 1];
    static double value[LINES * 20 + 1];
    int n = 0;
    glp_prob *lp = glp_create_prob();
    glp_set_obj_dir(lp, GLP_MAX);
    glp_add_rows(lp, (int)(x->batches + x->lines));
    glp_add_cols(lp, (int)x->edges + 1);
    for (uint32_t b = 0; b < x->batches; b++) glp_set_row_bnds(lp, (int)b + 1, GLP_UP, 0, (double)x->supply[b]);
    for (uint32_t e = 0; e < x->edges; e++) {
        glp_set_col_bnds(lp, (int)e + 1, GLP_LO, 0, 0);
        row[++n] = (int)x->edge[e].batch + 1, column[n] = (int)e + 1, value[n] = 1;
        row[++n] = (int)(x->batches + x->edge[e].line) + 1, column[n] = (int)e + 1, value[n] = 1;
    }
    glp_set_col_bnds(lp, (int)x->edges + 1, GLP_DB, 0, 1);
    for (uint32_t l = 0; l < x->lines && with_level; l++)
        row[++n] = (int)(x->batches + l) + 1, column[n] = (int)x->edges + 1,
        value[n] = -(double)(x->wish[l].handed + x->wish[l].need);
    glp_load_matrix(lp, n, row, column, value);
    return lp;
}

static void solve(glp_prob *lp)
{
    glp_smcp how;
    glp_init_smcp(&how);
    how.msg_lev = GLP_MSG_OFF;
    glp_std_basis(lp); /* rows have changed: from the start */
    ck_assert_int_eq(glp_simplex(lp, &how), 0);
    ck_assert_int_eq(glp_get_status(lp), GLP_OPT);
}

/* Fixes the lines that the level holds back: those whose rows have a price. */
static uint32_t fix_tight(const struct instance *x, glp_prob *lp, double t, double *level)
{
    uint32_t fixed = 0;
    for (uint32_t l = 0; l < x->lines; l++) {
        int row = (int)(x->batches + l) + 1;
        if (level[l] >= 0 || fabs(glp_get_row_dual(lp, row)) < 1e-12) continue;
        level[l] = t;
        fixed++;
    }
    /* In a row of a fixed line the level plays no part any more. */
    for (uint32_t l = 0; l < x->lines; l++) {
        int row = (int)(x->batches + l) + 1, at[LINES + 1], n;
        double v[LINES + 1];
        if (level[l] < 0) continue;
        n = glp_get_mat_row(lp, row, at, v);
        for (int i = 1; i <= n; i++)
            if (at[i] == (int)x->edges + 1) v[i] = 0;
        glp_set_mat_row(lp, row, n, at, v);
        double has = level[l] * (double)(x->wish[l].handed + x->wish[l].need) - (double)x->wish[l].handed;
        glp_set_row_bnds(lp, row, GLP_LO, has - 1e-9, 0);
    }
    return fixed;
}

/* The levels one after the other: the highest that all not yet fixed can have. */
static int levels_by_program(const struct instance *x, double *level)
{
    glp_prob *lp = program(x, true);
    int programs = 0;
    for (uint32_t l = 0; l < x->lines; l++) {
        level[l] = -1;
        glp_set_row_bnds(lp, (int)(x->batches + l) + 1, GLP_LO, -(double)x->wish[l].handed, 0);
    }
    glp_set_obj_coef(lp, (int)x->edges + 1, 1);
    for (;;) {
        solve(lp);
        programs++;
        double t = glp_get_obj_val(lp);
        if (t > 1 - 1e-9) break;
        ck_assert_uint_gt(fix_tight(x, lp, t, level), 0);
        uint32_t open = 0;
        for (uint32_t l = 0; l < x->lines; l++) open += level[l] < 0;
        if (open == 0) break;
    }
    for (uint32_t l = 0; l < x->lines; l++)
        if (level[l] < 0) level[l] = 1;
    glp_delete_prob(lp);
    return programs;
}

static long cases(void)
{
    const char *given = getenv("COT_SOLVER_CASES");
    return given ? atol(given) : 300;
}

START_TEST(levels)
{
    static double level[LINES];
    struct dice d = dice_new("levels");
    long programs = 0, n = cases();
    for (long k = 0; k < n; k++) {
        static struct instance x;
        draw(&d, &x, COT_SHARE_PRORATA);
        programs += levels_by_program(&x, level);
        for (uint32_t l = 0; l < x.lines; l++) {
            int64_t promised = x.wish[l].handed + x.wish[l].need, got = cot_share_got(&x.s)[l];
            const struct cot_portion *p = &x.s.inside->part[l];
            bool together = x.s.inside->node_in[2 * l];
            double ours = together ? (double)p->num / (double)p->den : 1;
            double exact = level[l] * (double)promised - (double)x.wish[l].handed;
            ck_assert_msg(fabs(ours - level[l]) < 1e-6, "case %ld, line %u: level %.9f, not %.9f", k, l, ours,
                          level[l]);
            ck_assert_msg(fabs((double)got - exact) < 1 + 1e-6 * (double)promised, "case %ld, line %u: %ld of %.6f", k,
                          l, (long)got, exact);
        }
        drop(&x);
    }
    ck_assert_int_gt(programs, 2 * n); /* several levels were among them */
}
END_TEST

START_TEST(first_claims)
{
    struct dice d = dice_new("first_claims");
    long n = cases();
    for (long k = 0; k < n; k++) {
        static struct instance x;
        draw(&d, &x, COT_SHARE_FIRST);
        glp_prob *lp = program(&x, false);
        for (uint32_t l = 0; l < x.lines; l++)
            glp_set_row_bnds(lp, (int)(x.batches + l) + 1, GLP_UP, 0, (double)x.wish[l].need);
        for (int part = 1; part <= 3; part++) {
            uint32_t first = 1 + (x.lines - 1) * (uint32_t)part / 3;
            int64_t got = 0;
            for (uint32_t l = 0; l < first; l++) got += cot_share_got(&x.s)[l];
            for (uint32_t e = 0; e < x.edges; e++) glp_set_obj_coef(lp, (int)e + 1, x.edge[e].line < first);
            solve(lp);
            ck_assert_msg(fabs(glp_get_obj_val(lp) - (double)got) < 1e-6, "case %ld, first %u: %ld, not %.6f", k, first,
                          (long)got, glp_get_obj_val(lp));
        }
        glp_delete_prob(lp);
        drop(&x);
    }
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("reference/maxmin");
    TCase *c = tcase_create("solver");
    tcase_set_timeout(c, 3000);
    tcase_add_test(c, levels);
    tcase_add_test(c, first_claims);
    suite_add_tcase(s, c);
    return s;
}
