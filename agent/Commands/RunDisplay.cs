using System.Globalization;
using Cardassay.Agent.CapacityProof;
using Cardassay.Agent.Trials;
using Cardassay.Identity;
using Cardassay.Plans;
using Cardassay.Service;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>
/// Progress on standard error: one line that is rewritten on a terminal, plain lines when piped. Keeps the latest state for
/// whoever asks (the presence message), and counts a heartbeat where the run went on: what is only waited for is none.
/// </summary>
/// <param name="output">Where lines go.</param>
/// <param name="isTerminal">Whether a line can be rewritten.</param>
/// <param name="heartbeat">Beats where the run went on.</param>
/// <param name="service">How lines of the service look; null for a run started by hand, whose lines have no numbers.</param>
internal sealed class RunDisplay(TextWriter output, bool isTerminal, Heartbeat? heartbeat = null, ServiceLine? service = null)
{
    private string _step = "";
    private string _phase = "";
    private int _lastLength;
    private int _tenth = -1;
    private long _signs;

    /// <summary>Part done, 0 to 1.</summary>
    internal double Fraction { get; private set; }

    /// <summary>Estimate, at the most; set before the run and renewed about once a second.</summary>
    internal double SecondsLeft { get; set; }

    /// <summary>What a run still has before it when its capacity proof is over, at the most; 0 without trials behind it.</summary>
    internal double SecondsAfterProof { get; set; }

    internal string Step => _step;

    /// <summary>Counts every sign of life of the run.</summary>
    internal long SignsOfLife => Interlocked.Read(ref _signs);

    /// <summary>Set in front of every line while two runs go on; "" else.</summary>
    internal string Label { get; set; } = "";

    /// <summary>One of its own for a run beside this one.</summary>
    internal RunDisplay ForAnother() => new(output, isTerminal: false, heartbeat, service);

    /// <summary>Forgets the run before.</summary>
    internal void Begin()
    {
        (_step, _phase, _tenth, Fraction, SecondsLeft, SecondsAfterProof) = ("preparing", "", -1, 0, 0, 0);
        Interlocked.Increment(ref _signs);
    }

    internal void Preparing(long bytes)
    {
        heartbeat?.Beat();
        _step = $"writing and checking {Text.Bytes(bytes)} so that what is read is known";
        Line(AgentEvent.ContentPrepared, _step);
    }

    internal void Starting(int index, int total, PlanStep step, int repetition, TrialRole role)
    {
        string what = role switch
        {
            TrialRole.WarmUp => ", warm-up",
            TrialRole.Closing => ", first trial once more",
            _ => "",
        };
        heartbeat?.Beat();
        _step = string.Create(CultureInfo.InvariantCulture,
            $"trial {index + 1} of at most {total}: {TrialKinds.WordsOf(step.Kind)}, repetition {repetition}{what}");
        if (isTerminal)
        {
            Rewrite(_step);
        }
    }

    internal void Progress(RunProgress progress)
    {
        Interlocked.Increment(ref _signs);
        Fraction = progress.Fraction;
        SecondsLeft = progress.TimeLeft.TotalSeconds;
        if (progress.IsResting || progress.OperationsPerSecond > 0)
        {
            heartbeat?.Beat(); // not by the clock alone: a trial whose operations do not come back is told of every second too
        }

        if (isTerminal)
        {
            Rewrite(string.Create(CultureInfo.InvariantCulture,
                $"{progress.Fraction * 100,3:0} %  at most {Text.Duration(SecondsLeft)} left  {progress.BytesPerSecond / 1e6:0.0} MB/s  "
                    + $"{_step}"));
        }
    }

    internal void Measured(TrialMeasured trial)
    {
        heartbeat?.Beat();
        string figure = $"{TrialFigure.Text(TrialFigure.Of(trial))} {TrialFigure.UnitOf(trial.Kind)}";
        string left = isTerminal ? "" : $", at most {Text.Duration(SecondsLeft)} left";
        string invalid = trial.Valid ? "" : $"  INVALID: {string.Join(' ', trial.Reasons)}";
        Line(AgentEvent.TrialMeasured, string.Create(CultureInfo.InvariantCulture,
            $"{trial.Index + 1,4}  {TrialKinds.WordsOf(trial.Kind) + (trial.Pass == 1 ? ", first" : ""),-22} {figure,14}  p99 "
                + $"{Text.Latency(trial.Latency.PercentileNs(99)),9}  max {Text.Latency(trial.Latency.MaxNs),9}{left}{invalid}"));
    }

    internal void Proving(ProofProgress progress)
    {
        heartbeat?.Beat(); // told of after a transfer only
        Interlocked.Increment(ref _signs);
        Fraction = progress.Fraction;
        SecondsLeft = (progress.TimeLeft?.TotalSeconds ?? 0) + SecondsAfterProof;
        int tenth = (int)(10 * progress.Fraction);
        bool isNews = progress.Phase != _phase || tenth != _tenth;
        _phase = progress.Phase;
        _tenth = tenth;
        string left = progress.TimeLeft is { } time ? $", {Text.Duration(time.TotalSeconds)} left" : "";
        string keeps = progress.KeepsAtLeastBytes > 0 ? $", keeps at least {ProofText.Gigabytes(progress.KeepsAtLeastBytes)}" : "";
        _step = $"capacity proof: {progress.Phase}{keeps}";
        string line = string.Create(CultureInfo.InvariantCulture,
            $"{progress.Fraction * 100,3:0} %  {progress.Phase} {progress.BytesPerSecond / 1e6:0.0} MB/s{left}{keeps}  "
                + $"{progress.Map}").TrimEnd();
        if (isTerminal)
        {
            Rewrite(line);
        }
        else if (isNews)
        {
            Line(AgentEvent.ProofGoesOn, line);
        }
    }

    /// <summary>Tells something that happens in the service too.</summary>
    internal void Line(AgentEvent what, string text) => Write(service?.Of(what, Label + text) ?? Text.Clean(Label + text));

    /// <summary>Tells something that only a run started by hand tells.</summary>
    internal void Line(string text) => Write(Text.Clean(text));

    private void Write(string line)
    {
        Interlocked.Increment(ref _signs);
        if (isTerminal)
        {
            Clear();
        }

        output.WriteLine(line);
    }

    private void Rewrite(string text)
    {
        int width = Math.Max(20, SafeWidth() - 1);
        string line = Text.Clean(text);
        line = line.Length > width ? line[..width] : line;
        output.Write($"\r{line.PadRight(_lastLength)}");
        output.Flush();
        _lastLength = line.Length;
    }

    private void Clear()
    {
        if (_lastLength > 0)
        {
            output.Write($"\r{new string(' ', _lastLength)}\r");
            _lastLength = 0;
        }
    }

    private static int SafeWidth()
    {
        try
        {
            return Console.WindowWidth > 0 ? Console.WindowWidth : 80;
        }
        catch (Exception e) when (e is IOException or PlatformNotSupportedException)
        {
            return 80;
        }
    }
}
