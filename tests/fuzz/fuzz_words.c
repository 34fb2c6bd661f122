/* What people type or copy, and problem documents of a server: invitations, codes, days, weeks. */
#include "fuzz.h"

#include "cotyledger/core/day.h"
#include "cotyledger/wire/request.h"

static void codes(const char *s, size_t len)
{
    char code[COT_CODE_TEXT], again[COT_CODE_TEXT];
    if (cot_code_read(s, len, code) != COT_CODE_GOOD) return;
    must(cot_code_read(code, strlen(code), again) == COT_CODE_GOOD && strcmp(code, again) == 0);
}

static void days(const char *s, size_t len)
{
    int32_t day;
    int year, week;
    char text[COT_DAY_TEXT];
    if (cot_day_parse(s, len, &day)) {
        cot_day_text(day, text);
        must(strlen(text) == len && memcmp(text, s, len) == 0);
    }
    if (cot_day_parse_as("D.M.YYYY", s, len, &day)) must(day >= COT_DAY_MIN && day <= COT_DAY_MAX);
    (void)cot_week_parse(s, len, &year, &week);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct cot_invitation invitation;
    struct cot_fault fault;
    int64_t number;
    char *text = malloc(size + 1), value[64];
    if (!text) return 0;
    memcpy(text, data, size);
    text[size] = '\0';
    (void)!cot_invitation_parse(text, size, &invitation, NULL);
    codes(text, size);
    days(text, size);
    cot_problem_read(text, size, &fault);
    must(fault.code != COT_OK);
    (void)cot_problem_int(text, size, "now", &number);
    (void)cot_problem_text(text, size, "chain", value, sizeof value);
    free(text);
    return 0;
}
