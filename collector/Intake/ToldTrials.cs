using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Intake;

/// <summary>
/// The trials of a run that is over: its figures in bytes, and where its records are. Nothing that was read is kept. Safe for several
/// threads.
/// </summary>
/// <param name="figures">What <see cref="RunFiguresCodec.Encode"/> gave.</param>
/// <param name="run">The run.</param>
/// <param name="first">Lowest sequence of its records.</param>
/// <param name="last">Highest one; records of other runs may lie between.</param>
/// <param name="records">Reads records from the store.</param>
internal sealed class ToldTrials(byte[] figures, RunKey run, long first, long last, ReadRecords records) : IToldTrials
{
    private readonly (int Count, long ElapsedNs, int Valid) _head = RunFiguresCodec.Head(figures);

    /// <inheritdoc/>
    public int Count => _head.Count;

    /// <inheritdoc/>
    public long ElapsedNs => _head.ElapsedNs;

    /// <inheritdoc/>
    public int Valid => _head.Valid;

    /// <inheritdoc/>
    public RunFigures Figures() => RunFiguresCodec.Decode(figures, run.Epoch);

    /// <inheritdoc/>
    public IReadOnlyList<TrialRecord> Read() => TrialParts.Of(TrialParts.Among(run, records(run.Epoch, first, last)));
}

/// <summary>Reads the records of one journal between two sequences, both included.</summary>
internal delegate IEnumerable<StoredRecord> ReadRecords(string epoch, long first, long last);
