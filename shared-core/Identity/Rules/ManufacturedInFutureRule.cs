using Cardassay.Registers;
using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>
/// A date of manufacture after today. A board's clock may be wrong, so without the collector's clock it
/// is not evaluated, and says so.
/// </summary>
internal sealed class ManufacturedInFutureRule : IFindingRule
{
    public string Id => "manufactured-in-future";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers.Manufactured is not { IsPossible: true } date)
        {
            yield break;
        }

        if (evidence.Today is not DateOnly today)
        {
            yield return this.Note(
                "Whether the date of manufacture lies in the future was not evaluated: no trusted clock here.",
                Sources.Practice,
                "Judge the card at the collector.",
                Value("manufactured", $"{date}"));
        }
        else if (date.CompareTo(ManufactureDate.Of(today)) > 0)
        {
            yield return this.Doubt(
                Text($"The card states to be made in {date}, which has not come yet."),
                Sources.Cid,
                "Check the clock that gave today's date.",
                Value("manufactured", $"{date}"),
                Value("today", $"{today:yyyy-MM-dd}"));
        }
    }
}
