#include "asked.h"

#include <string.h>

#include "table.h"

enum cot_err cot_day_asked(struct cot_cli *cli, const struct cot_args *a, const struct cot_opt *opts, const char *name,
                           int32_t *day)
{
    const char *s = cot_args_value(a, opts, name);
    if (!s) {
        *day = cot_today(cli);
        return COT_OK;
    }
    if (cot_day_parse(s, strlen(s), day)) return COT_OK;
    (void)cot_fail(&cli->fault, COT_INVALID, "--%s: \"%.40s\" is no date", name, s);
    return cot_hint(&cli->fault, "write it as 2027-03-29");
}

enum cot_err cot_day_said(struct cot_cli *cli, int32_t day, enum cot_form form)
{
    struct cot_buf b = {0};
    char text[COT_DAY_TEXT], week[COT_WEEK_TEXT];
    if (form != COT_FORM_TEXT) return COT_OK;
    cot_day_text(day, text);
    cot_week_text(day, week);
    cot_buf_fmt(&b, "As of %s (%s)\n\n", text, week);
    enum cot_err err = cot_print(cli, &b);
    cot_buf_free(&b);
    return err;
}
