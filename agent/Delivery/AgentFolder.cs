using Cardassay.Service;

namespace Cardassay.Agent.Delivery;

/// <summary>The agent's own folder: journal and what it must remember between runs.</summary>
internal sealed record AgentFolder(string Path)
{
    /// <summary>The installed service, its user and its folder below /var/lib.</summary>
    internal const string ServiceName = "cardassay-agent";

    internal string Journal => System.IO.Path.Combine(Path, "journal");

    /// <summary>Bytes written to each card by this board's runs.</summary>
    internal string Odometer => System.IO.Path.Combine(Path, "odometer");

    /// <summary>How far capacity proofs of cards came that did not reach their end.</summary>
    internal string Proofs => System.IO.Path.Combine(Path, "proofs");

    /// <summary>How far the capacity of each card was proven.</summary>
    internal string ProvenCards => System.IO.Path.Combine(Path, "proven-cards");

    /// <summary>The board's certificate and key, and which collector it trusts; made by `join`.</summary>
    internal string Membership => System.IO.Path.Combine(Path, "membership.json");

    /// <summary>Names the run that is going on; left behind only by a power cut or a kill.</summary>
    internal string OpenRun => System.IO.Path.Combine(Path, "open-run");

    /// <summary>The same of the run in a lane: 0 is the first, 1 the one beside it.</summary>
    internal string OpenRunIn(int lane) => lane == 0 ? OpenRun : OpenRun + "-beside";

    /// <summary>Tests whether two slots of this board disturb each other.</summary>
    internal string SlotPairs => System.IO.Path.Combine(Path, "slot-pairs");

    /// <summary>Runs of the schedule that ended and of which the collector may not know yet.</summary>
    internal string FinishedDuties => System.IO.Path.Combine(Path, "finished-duties");

    /// <summary>
    /// `CARDASSAY_DATA`, else `STATE_DIRECTORY` as a service, else the service's folder for its own user,
    /// else below the user's own state.
    /// </summary>
    internal static string Default()
    {
        if (Environment.GetEnvironmentVariable("CARDASSAY_DATA") is { Length: > 0 } chosen)
        {
            return chosen;
        }

        if (Environment.GetEnvironmentVariable("STATE_DIRECTORY") is { Length: > 0 } state)
        {
            return state.Split(':')[0];
        }

        if (ServiceFolder.Own(ServiceName) is { } own)
        {
            return own;
        }

        string home = Environment.GetFolderPath(Environment.SpecialFolder.UserProfile);
        return System.IO.Path.Combine(home.Length > 0 ? home : "/var/lib", ".local", "state", "cardassay-agent");
    }
}
