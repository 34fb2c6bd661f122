/* show: one thing with all that is known of it. history: what was recorded about it. */
#include "commands.h"

#include <string.h>

#include "show/asked.h"
#include "show/lists.h"
#include "show/thing.h"

const char cot_help_show[] = "Shows one thing: its fields, what was recorded about it, and what became of\n"
                             "that. A batch shows its stand and whom it is to serve; an order line how sure\n"
                             "it is. THING is a code (B-0417-K) or a name; a name that several kinds have\n"
                             "needs the kind before it.\n"
                             "\n"
                             "  --on DAY      stand and fill as of this day (default: today)\n"
                             "\n"
                             "Examples:\n"
                             "  cotyl show A-0012-5\n"
                             "  cotyl show variety \"Red Harbour\"\n";

const char cot_help_history[] = "Lists the entries about a batch, an order line or any other thing, the oldest\n"
                                "first: what, by whom, on which laptop, and what became of it. The letters in\n"
                                "brackets name the entry; `take-back` and `answer` want them.\n"
                                "\n"
                                "Example:\n"
                                "  cotyl history A-0012-5\n";

static const struct cot_opt show_opts[] = {{"on", "DAY", -1}, COT_OPT_END};
static const struct cot_opt history_opts[] = {COT_OPT_END};

/* One word names any thing; two name its sort first. */
static enum cot_err find(struct cot_cli *cli, const struct cot_args *args, const struct cot_thing **out)
{
    const struct cot_sort *sort = args->count == 2 ? cot_sort_by_word(args->word[0]) : NULL;
    if (args->count == 2 && !sort) return cot_sort_misuse(cli, args->word[0], false);
    return cot_show_find(cli, sort, args->word[args->count - 1], out);
}

enum cot_err cot_cmd_show(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_args args;
    struct cot_fill fill = {0};
    struct cot_buf out = {0};
    const struct cot_thing *thing;
    int32_t on;
    enum cot_err err = cot_args_read(cli, argc, argv, show_opts, 1, 2, &args);
    if (err != COT_OK) return err;
    err = cot_day_asked(cli, &args, show_opts, "on", &on);
    if (err == COT_OK) err = find(cli, &args, &thing);
    if (err != COT_OK) goto out;
    err = cot_fill_read(cli->book, on, &fill);
    if (err != COT_OK) {
        (void)cot_fail(&cli->fault, err, "unable to read the book as of that day");
        goto out;
    }
    if (cli->json) cot_thing_put_json(cli, thing, &fill, &out);
    else cot_thing_put_text(cli, thing, &fill, &out);
    err = cot_print(cli, &out);
out:
    cot_buf_free(&out);
    cot_fill_free(&fill);
    cot_args_free(&args);
    return err;
}

enum cot_err cot_cmd_history(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_args args;
    struct cot_buf out = {0};
    const struct cot_thing *thing;
    enum cot_err err = cot_args_read(cli, argc, argv, history_opts, 1, 2, &args);
    if (err != COT_OK) return err;
    err = find(cli, &args, &thing);
    if (err == COT_OK) {
        if (cli->json) cot_history_put_json(cli, thing, &out);
        else cot_history_put_text(cli, thing, &out);
        if (cli->json) cot_buf_str(&out, "\n");
        err = cot_print(cli, &out);
    }
    cot_buf_free(&out);
    cot_args_free(&args);
    return err;
}
